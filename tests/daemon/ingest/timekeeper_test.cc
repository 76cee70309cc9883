#include "daemon/ingest/timekeeper.h"

#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "sensors/iso_time.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;
using std::chrono::seconds;
using Trust = GardenClock::Trust;

const Instant kNoon = parse_instant("2026-04-12T12:00:00Z").value();
const Instant k1970 = parse_instant("1970-01-01T00:00:00Z").value();

// A keeper of clocks that a test can set.
struct Fixture {
  explicit Fixture(std::optional<Instant> newest_stored = std::nullopt)
      : keeper(GardenClock(Trust::kEarned, newest_stored),
               {.look = [this] { return clocks; },
                .keep = [this](const Course& course) { kept.push_back(course); },
                .log = [this](LogLevel,
                              const std::string& text) { said.push_back(text); }}) {}

  ClockLook clocks{.system = kNoon, .uptime = 100s, .synchronised = true};
  std::vector<Course> kept;
  std::vector<std::string> said;
  Timekeeper keeper;
};

Arrival arrival_at(Instant at, std::optional<seconds> uptime) {
  Arrival arrival;
  arrival.at = at;
  arrival.uptime = uptime;
  return arrival;
}

TEST_CASE(
    "what came while the clock was wrong gets its true time, the rest keeps its own") {
  Fixture fixture;
  fixture.keeper.look();
  Arrival early = arrival_at(k1970 + 20s, 20s);
  REQUIRE(fixture.keeper.date(early));
  CHECK(early.at == kNoon - 80s);
  Arrival right = arrival_at(kNoon + 1s, 100s);
  REQUIRE(fixture.keeper.date(right));
  CHECK(right.at == kNoon + 1s);
  fixture.keeper.report_undated();
  CHECK(fixture.said.size() == 1);  // that the clock is believed
}

TEST_CASE("from before the board was off only what has a believable time is taken") {
  Fixture fixture(kNoon - 1h);
  fixture.keeper.look();
  const auto is_taken = [&](Instant at) {
    Arrival arrival = arrival_at(at, std::nullopt);
    const bool taken = fixture.keeper.date(arrival);
    CHECK(arrival.at == at);
    return taken;
  };
  CHECK(is_taken(kNoon - 30min));
  CHECK(is_taken(kNoon - 1h));
  CHECK(is_taken(kNoon - 1h - 5min));
  CHECK_FALSE(is_taken(kNoon - 1h - 5min - 1s));
  CHECK_FALSE(is_taken(k1970 + 20s));
  CHECK_FALSE(is_taken(kNoon + 5min + 1s));
  fixture.keeper.report_undated();
  CHECK(fixture.said.back() ==
        "3 messages from before the board was switched off are left out: its clock was "
        "wrong then, and how long it was off is not known");
  const auto lines = fixture.said.size();
  fixture.keeper.report_undated();
  CHECK(fixture.said.size() == lines);
}

TEST_CASE("the course is kept when it changes, not at every look") {
  Fixture fixture;
  for (int i = 0; i < 10; ++i)
    fixture.keeper.look();
  CHECK(fixture.kept.size() == 1);
  fixture.clocks.system += 2h;
  fixture.keeper.look();
  fixture.keeper.look();
  CHECK(fixture.kept.size() == 2);
  CHECK(fixture.keeper.now() == kNoon + 2h);
}

TEST_CASE("a message's own time speaks for the clock as it was when it came") {
  Fixture fixture;
  fixture.clocks.synchronised = false;
  fixture.keeper.look();
  REQUIRE_FALSE(fixture.keeper.is_believed());
  fixture.keeper.told(kNoon - 90s, arrival_at(kNoon - 90s, std::nullopt));
  fixture.keeper.look();
  CHECK_FALSE(fixture.keeper.is_believed());
  fixture.keeper.told(kNoon - 90s, arrival_at(kNoon - 80s, 20s));
  fixture.keeper.look();
  CHECK(fixture.keeper.is_believed());
  CHECK(fixture.keeper.now() == kNoon);
}

}  // namespace
}  // namespace rimeward
