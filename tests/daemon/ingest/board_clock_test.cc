#include "daemon/ingest/board_clock.h"

#include <fstream>

#include <doctest/doctest.h>

#include "daemon/ingest/note.h"
#include "tests/support/scratch_folder.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;

constexpr Instant kNoon =
    std::chrono::sys_days{std::chrono::year{2026} / std::chrono::April / 12} + 12h;

TEST_CASE("the kernel tells a boot and an uptime that grows no faster than time passes") {
  CHECK_FALSE(boot_id().empty());
  CHECK(boot_id() == boot_id());
  const auto before = board_uptime();
  CHECK(before > 0s);
  CHECK(board_uptime() - before <= 10s);
}

TEST_CASE("a look at a board without a battery clock has none") {
  const ScratchFolder folder;
  BoardClock board(folder / "none");
  const ClockLook look = board.look();
  CHECK(std::chrono::abs(look.system - system_time()) <= 10s);
  CHECK(std::chrono::abs(look.uptime - board_uptime()) <= 10s);
  CHECK_FALSE(look.battery_clock.has_value());
}

TEST_CASE(
    "the battery clock is told in seconds since 1970 and runs on between readings") {
  const ScratchFolder folder;
  const auto file = folder / "since_epoch";
  std::ofstream(file) << kNoon.time_since_epoch().count() << '\n';
  BoardClock board(file);
  const ClockLook first = board.look();
  REQUIRE(first.battery_clock.has_value());
  CHECK(*first.battery_clock == kNoon);
  std::ofstream(file) << 0 << '\n';
  const ClockLook second = board.look();
  CHECK(*second.battery_clock == kNoon + (second.uptime - first.uptime));
}

TEST_CASE("a battery clock that cannot be read is none") {
  const ScratchFolder folder;
  const auto file = folder / "since_epoch";
  std::ofstream(file) << "no number\n";
  BoardClock board(file);
  CHECK_FALSE(board.look().battery_clock.has_value());
}

TEST_CASE("a course is read back in the same boot and in no other") {
  const ScratchFolder folder;
  const Course course{.zero = kNoon, .slow_from = 4711s, .goal = kNoon - 2h};
  CHECK_FALSE(CourseNote(folder.path(), "first-boot").read().has_value());
  REQUIRE(CourseNote(folder.path(), "first-boot").write(course));
  const auto read = CourseNote(folder.path(), "first-boot").read();
  REQUIRE(read.has_value());
  CHECK(*read == course);
  CHECK_FALSE(CourseNote(folder.path(), "second-boot").read().has_value());
}

TEST_CASE("without a known boot no course is kept") {
  const ScratchFolder folder;
  CHECK_FALSE(CourseNote(folder.path(), "").write({.zero = kNoon, .goal = kNoon}));
  CHECK_FALSE(CourseNote(folder.path(), "").read().has_value());
}

TEST_CASE("a course that cannot be read or written is none") {
  const ScratchFolder folder;
  for (const char* text : {"", "first-boot", "first-boot 1 2", "first-boot 1 two 3"}) {
    CAPTURE(text);
    REQUIRE(write_note(folder / "clock", text));
    CHECK_FALSE(CourseNote(folder.path(), "first-boot").read().has_value());
  }
  const CourseNote nowhere(folder / "missing", "first-boot");
  CHECK_FALSE(nowhere.write({.zero = kNoon, .goal = kNoon}));
}

}  // namespace
}  // namespace rimeward
