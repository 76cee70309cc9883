#include "daemon/store/schema.h"

#include <chrono>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>

#include <doctest/doctest.h>

#include "daemon/store/marks.h"
#include "tests/daemon/store/store_builders.h"
#include "tests/daemon/store/store_probe.h"
#include "tests/support/scratch_folder.h"

namespace rimeward {
namespace {

std::string content(const std::filesystem::path& file) {
  std::ifstream stream(file, std::ios::binary);
  return {std::istreambuf_iterator<char>(stream), {}};
}

void write(const std::filesystem::path& file, const std::string& bytes) {
  std::ofstream(file, std::ios::binary) << bytes;
}

// What the refusal to open `file` says; empty when it was opened.
std::string refusal(const std::filesystem::path& file, Store::Access access) {
  try {
    Store::open(file, access);
    return "";
  } catch (const StoreError& error) {
    return error.what();
  }
}

// Both ways of opening refuse with the file's name and `words`, and leave every byte.
void check_refused(const std::filesystem::path& file, const std::string& words) {
  const std::string before = content(file);
  const std::string start = "store " + file.string() + ": " + words;
  CHECK(refusal(file, Store::Access::kReadOnly).substr(0, start.size()) == start);
  CHECK(content(file) == before);
  CHECK(refusal(file, Store::Access::kReadWrite).substr(0, start.size()) == start);
  CHECK(content(file) == before);
}

TEST_CASE("a new store carries the newest version and the mark of a store") {
  const ScratchFolder folder;
  { Store::open(folder / "garden.db", Store::Access::kReadWrite); }
  CHECK(sqlite_rows(folder / "garden.db", "PRAGMA user_version") ==
        std::vector{std::to_string(schema_version())});
  CHECK(sqlite_rows(folder / "garden.db", "PRAGMA application_id") ==
        std::vector<std::string>{std::to_string(0x52696d65)});
}

TEST_CASE("a store is made together with the folder that it is to lie in") {
  const ScratchFolder folder;
  const auto file = folder / "demo-garden" / "inner" / "garden.db";
  { Store::open(file, Store::Access::kReadWrite); }
  CHECK(std::filesystem::exists(file));
}

TEST_CASE("a file from a newer version is refused with both versions and left alone") {
  const ScratchFolder folder;
  const auto file = folder / "garden.db";
  { Store::open(file, Store::Access::kReadWrite); }
  sqlite_rows(file, "PRAGMA user_version = 941");
  check_refused(file,
                "it is a store of version 941, and this program knows versions up "
                "to 8; install a newer rimeward, the file was left as it is");
}

TEST_CASE("another program's database is refused and left alone") {
  const ScratchFolder folder;
  SUBCASE("one with tables and no mark") {
    sqlite_rows(folder / "other.db", "CREATE TABLE tune (name TEXT)");
  }
  SUBCASE("one with a mark of its own") {
    sqlite_rows(folder / "other.db",
                "PRAGMA application_id = 77; PRAGMA user_version = 1");
  }
  check_refused(folder / "other.db",
                "it is another program's database, not a store; name "
                "another file, this one was left as it is");
}

TEST_CASE("a file that is no database is refused and left alone") {
  const ScratchFolder folder;
  SUBCASE("a short text") {
    write(folder / "notes.txt", "water the chillies\n");
  }
  SUBCASE("a long text") {
    write(folder / "notes.txt", std::string(20'000, 'x'));
  }
  check_refused(folder / "notes.txt",
                "it is no store, nor any database; name another "
                "file, this one was left as it is");
}

TEST_CASE(
    "a damaged store is refused with the advice to restore a backup, and left alone") {
  const ScratchFolder folder;
  const auto file = folder / "garden.db";
  { Store::open(file, Store::Access::kReadWrite); }
  // The root of the list of tables, right after the 100 bytes of the file's header
  // (sqlite.org/fileformat2.html, sections 1.3 and 1.6).
  std::string bytes = content(file);
  bytes.replace(100, 8, "\xff\xff\xff\xff\xff\xff\xff\xff");
  write(file, bytes);
  check_refused(file, "it is damaged; restore a backup, the file was left as it is");
}

TEST_CASE("an empty file becomes a store for a writer and is refused to a reader") {
  const ScratchFolder folder;
  const auto file = folder / "garden.db";
  write(file, "");
  CHECK(refusal(file, Store::Access::kReadOnly) ==
        "store " + file.string() + ": nothing is in it yet; start rimewardd once");
  CHECK(refusal(file, Store::Access::kReadWrite).empty());
  CHECK(refusal(file, Store::Access::kReadOnly).empty());
}

TEST_CASE(
    "a store from an older version is refused to a reader, with the way to mend it") {
  const ScratchFolder folder;
  const auto file = folder / "garden.db";
  { Store::open(file, Store::Access::kReadWrite); }
  sqlite_rows(file, "PRAGMA user_version = 0");
  CHECK(refusal(file, Store::Access::kReadOnly) ==
        "store " + file.string() +
            ": it is a store of version 0, and this program reads version 8; start "
            "rimewardd once, it brings the file up to date");
}

TEST_CASE("a store of version 1 is brought up to date with nothing lost") {
  const ScratchFolder folder;
  const auto file = folder / "garden.db";
  sqlite_rows(file, content(std::filesystem::path(RIMEWARD_SOURCE_DIR) / "tests" /
                            "data" / "store_v1.sql"));
  sqlite_rows(file,
              "INSERT INTO mark VALUES ('looked_at', 1776016800), "
              "('spool_sequence', 99), ('action', 12)");
  const Store store = Store::open(file, Store::Access::kReadWrite);
  CHECK(all_readings(store, Instant{}, Instant::max()).size() == 2);
  CHECK(store.latest(1)->value == 3250);
  CHECK(store.mark(kMarkNow) == 1776016920);
  CHECK(store.mark(kMarkLookedAt) == 1776016800);
  CHECK(store.mark(kMarkSequence) == 99);
  CHECK(store.mark(kMarkAction) == 12);
  const auto doubtful = store.doubtful(Instant{}, Instant::max());
  REQUIRE(doubtful.size() == 3);
  CHECK(doubtful[0].doubt == Doubt::kSameSecond);
  CHECK(doubtful[1].doubt == Doubt::kRange);
  const auto tallies = store.tallies();
  REQUIRE(tallies.size() == 2);
  CHECK(tallies[0].sensor == "yard-probe");
  CHECK(tallies[0].channel == Channel::kAirTemperature);
  CHECK(tallies[0].doubt == Doubt::kRange);
  CHECK(tallies[0].count == 2);
  CHECK(tallies[1].doubt == Doubt::kSameSecond);
  CHECK(store.covers().size() == 1);
  CHECK(store.learned("yard", "outlook") == R"({"version":1})");
  // Covered from the evening of 12 April on: that night may have been warmer for it.
  const auto day = [](int number) {
    return std::chrono::sys_days{std::chrono::days{number}};
  };
  const auto frame = store.nights("north-frame", day(20555), day(20556));
  REQUIRE(frame.size() == 2);
  CHECK(frame[0].layers == 0);
  CHECK_FALSE(frame[1].layers);
  CHECK(frame[1].low == Celsius{0.5});
  CHECK(store.nights("yard", day(20556), day(20556)).front().layers == 0);
  REQUIRE(store.actions_after(0).size() == 1);
  CHECK(store.actions_after(0)[0].sensor.empty());
}

TEST_CASE("a migration that fails half-way leaves the file at the version it had") {
  const ScratchFolder folder;
  const auto file = folder / "garden.db";
  // A table of the same name stops the first migration after others were made.
  sqlite_rows(file, "CREATE TABLE mark (name TEXT)");
  sqlite_rows(file, "PRAGMA application_id = " + std::to_string(0x52696d65));
  CHECK_THROWS_AS(Store::open(file, Store::Access::kReadWrite), StoreError);
  CHECK(sqlite_rows(file, "SELECT name FROM sqlite_schema") ==
        std::vector<std::string>{"mark"});
  CHECK(sqlite_rows(file, "PRAGMA user_version") == std::vector<std::string>{"0"});
}

}  // namespace
}  // namespace rimeward
