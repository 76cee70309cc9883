#include <chrono>

#include <doctest/doctest.h>

#include "tests/daemon/store/store_builders.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;

constexpr std::chrono::sys_days kDay = 2026y / 4 / 12;
constexpr Instant kEvening = kDay + 18h;

Changes at(Instant now) {
  Changes changes;
  changes.now = now;
  return changes;
}

TEST_CASE("counts of doubts add up over commits, and one that came to nothing is gone") {
  Store store = Store::in_memory();
  const TallyRow jumps{.sensor = "yard-probe",
                       .channel = Channel::kAirTemperature,
                       .doubt = Doubt::kJump,
                       .count = 2,
                       .first_at = kEvening,
                       .last_at = kEvening + 5min};
  TallyRow unreadable = jumps;
  unreadable.channel.reset();
  unreadable.doubt = Doubt::kUnreadable;
  Changes first = at(kEvening);
  first.tallies = {jumps, unreadable};
  store.commit(first);
  Changes second = at(kEvening);
  second.tallies = {jumps, unreadable};
  second.tallies[0].first_at = kEvening - 1h;
  second.tallies[0].last_at = kEvening - 1h;
  second.tallies[1].count = -2;
  store.commit(second);

  TallyRow expected = jumps;
  expected.count = 4;
  expected.first_at = kEvening - 1h;
  CHECK(store.tallies() == std::vector{expected});
}

TEST_CASE("facts, corrections and heard topics come back as they were put") {
  Store store = Store::in_memory();
  const FactRow fact{.sensor = "yard-probe", .name = "format", .value = "json"};
  const CorrectionRow correction{.id = 3,
                                 .sensor = "yard-probe",
                                 .channel = Channel::kHumidity,
                                 .since = kEvening,
                                 .until = kEvening + 1h,
                                 .undone = true,
                                 .gain = 1.0 / 3.0,
                                 .offset = -0.43,
                                 .uncertainty = 0.08,
                                 .method = "salt sodium-chloride",
                                 .points = "[[70.1,75.5]]"};
  const HeardRow heard{.topic = "garden/\x1b[31m",
                       .first_at = kEvening,
                       .last_at = kEvening + 1h,
                       .count = 4,
                       .payload = std::string("\x00\xff 21", 5)};
  Changes changes = at(kEvening);
  changes.facts[{"yard-probe", "format"}] = fact;
  changes.corrections[3] = correction;
  changes.heard[heard.topic] = heard;
  store.commit(changes);
  CHECK(store.facts() == std::vector{fact});
  CHECK(store.corrections() == std::vector{correction});
  CHECK(store.heard() == std::vector{heard});

  Changes forgotten = at(kEvening);
  forgotten.heard[heard.topic] = std::nullopt;
  store.commit(forgotten);
  CHECK(store.heard().empty());
}

// A store with a reading every ten minutes of two days, summed but for the last hour; the
// value of each is its number.
Store two_days() {
  Store store = Store::in_memory();
  store.set_days(hochfeld_days());
  Changes changes = at(kDay + 48h);
  changes.series = {air_of(1, "yard")};
  for (int i = 0; i < 48 * 6; ++i)
    changes.readings.push_back({kDay + i * 10min, 1, i});
  store.commit(changes);
  return store;
}

DoubtfulRow doubted(Instant time, Milli value) {
  return {.time = time,
          .series = 1,
          .value = from_milli(value),
          .doubt = Doubt::kStuck,
          .reason = "the same value for an hour"};
}

TEST_CASE(
    "a reading withdrawn is gone from highs, lows and counts, and kept as doubtful") {
  Store store = two_days();
  const Instant last = kDay + 48h - 10min;
  Changes changes = at(kDay + 48h);
  changes.withdrawn = {doubted(last, 287), doubted(kDay + 10min, 1)};
  store.commit(changes);
  const auto extremes = store.extremes(1, kDay, kDay + 48h);
  REQUIRE(extremes);
  CHECK(extremes->high == 286);
  CHECK(extremes->low == 0);
  CHECK(extremes->count == 286);
  CHECK(extremes->sum == 287 * 286 / 2 - 1);
  CHECK(store.reading_count() == 286);
  CHECK(store.latest(1)->time == last - 10min);
  CHECK(store.doubtful(kDay, kDay + 48h).size() == 2);
  const auto days = store.days(kDay - std::chrono::days{1}, kDay, hochfeld_days());
  REQUIRE(days.size() == 2);
  CHECK(days[0].extremes.count == 7 * 6 - 1);  // until 09:00 in Berlin, 07:00 UTC
}

TEST_CASE("the last reading of a day withdrawn leaves no day behind") {
  Store store = Store::in_memory();
  store.set_days(hochfeld_days());
  Changes changes = at(kDay + 48h);
  changes.series = {air_of(1, "yard")};
  changes.readings = {{kDay + 12h, 1, 5}};
  store.commit(changes);
  Changes gone = at(kDay + 48h);
  gone.withdrawn = {doubted(kDay + 12h, 5)};
  store.commit(gone);
  CHECK_FALSE(store.latest(1));
  CHECK_FALSE(store.extremes(1, kDay, kDay + 48h));
  CHECK(store.days(kDay, kDay + std::chrono::days{1}, hochfeld_days()).empty());
  CHECK(store.reading_count() == 0);
}

TEST_CASE("a reading believed after all leaves no doubt behind") {
  Store store = two_days();
  DoubtfulRow held = doubted(kDay + 12h + 5min, 900);
  held.doubt = Doubt::kJump;
  Changes changes = at(kDay + 48h);
  changes.doubtful = {held};
  store.commit(changes);
  REQUIRE(store.latest_doubtful(1, 9) == std::vector{held});
  Changes again = at(kDay + 48h);
  again.believed_again = {{held.time, 1, 900}};
  store.commit(again);
  CHECK(store.latest_doubtful(1, 9).empty());
  CHECK(store.extremes(1, kDay, kDay + 48h)->high == 900);
  CHECK(store.reading_count() == 289);
}

TEST_CASE(
    "a reading stored twice is counted, and of third values for a second one stays") {
  Store store = two_days();
  store.commit(with_readings({{kDay, 1, 0}, {kDay, 1, 7}, {kDay, 1, 8}, {kDay, 1, 9}},
                             kDay + 48h));
  const auto tallies = store.tallies();
  REQUIRE(tallies.size() == 2);
  CHECK(tallies[0].doubt == Doubt::kSameSecond);
  CHECK(tallies[0].count == 3);
  CHECK(tallies[1].doubt == Doubt::kRepeat);
  CHECK(tallies[1].count == 1);
  CHECK(store.latest_doubtful(1, 9).size() == 1);
  CHECK(store.extremes(1, kDay, kDay + 1min)->high == 0);
}

}  // namespace
}  // namespace rimeward
