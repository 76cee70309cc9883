// Days that are over, packed: whatever is asked of a store says the same before and
// after.
#include <algorithm>
#include <chrono>
#include <filesystem>
#include <random>
#include <set>

#include <doctest/doctest.h>

#include "daemon/store/database.h"
#include "daemon/store/store.h"
#include "daemon/store/store_care.h"
#include "tests/daemon/store/store_builders.h"
#include "tests/daemon/store/store_probe.h"
#include "tests/support/scratch_folder.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;
using std::chrono::days;

constexpr std::chrono::sys_days kFirstDay = 2026y / 4 / 12;
constexpr Instant kBegin = kFirstDay;

void pack_all(Store& store, Instant at) {
  while (store.pack_some(at)) {
  }
}

Changes two_series() {
  Changes changes;
  changes.series = {air_of(1, "glasshouse"), air_of(2, "yard")};
  changes.now = kBegin;
  return changes;
}

// A reading each `every` of both series.
std::vector<ReadingRow> readings_of(Instant from, Instant to,
                                    std::chrono::seconds every) {
  std::vector<ReadingRow> rows;
  std::mt19937 random;
  const auto noise = [&random] { return static_cast<std::int64_t>(random()); };
  for (Instant at = from; at < to; at += every) {
    rows.push_back({at, 1, noise() % 211 * 10});
    rows.push_back({at, 2, -(noise() % 199) * 10});
  }
  return rows;
}

std::int64_t count_in(const std::filesystem::path& file, const std::string& what) {
  Database database(file, Database::Access::kReadOnly);
  Query query(database, "SELECT " + what);
  std::int64_t count = 0;
  if (query.next()) query.read(count);
  return count;
}

// Everything that can be asked of readings, of both stores.
void check_same(const Store& one, const Store& other, Instant now) {
  const Instant from = kBegin - days{2};
  CHECK(all_readings(one, from, now) == all_readings(other, from, now));
  CHECK(one.reading_count() == other.reading_count());
  for (const Instant at : {from, kBegin + 31h + 7s, kBegin + days{1}, now - 3h}) {
    CHECK(one.next_reading(at) == other.next_reading(at));
    CHECK(all_readings(one, at, at + 5h) == all_readings(other, at, at + 5h));
    for (const SeriesId series : {1, 2, 3}) {
      CHECK(one.extremes(series, at, at + 50h + 3s) ==
            other.extremes(series, at, at + 50h + 3s));
      CHECK(one.latest_times(series, 12, at) == other.latest_times(series, 12, at));
      CHECK(one.latest_times(series, 3000, at) == other.latest_times(series, 3000, at));
      CHECK(one.hours(series, from, now + 1h - now.time_since_epoch() % 1h) ==
            other.hours(series, from, now + 1h - now.time_since_epoch() % 1h));
    }
  }
  for (const SeriesId series : {1, 2, 3})
    CHECK(one.latest(series) == other.latest(series));
  const DayGrid grid = hochfeld_days();
  CHECK(one.days(kFirstDay - days{2}, kFirstDay + days{9}, grid) ==
        other.days(kFirstDay - days{2}, kFirstDay + days{9}, grid));
}

TEST_CASE(
    "nothing that is asked of a store changes when days are packed, whatever comes "
    "late, goes or is said twice") {
  for (const unsigned seed : {1U, 2U, 3U, 4U}) {
    CAPTURE(seed);
    std::mt19937 random(seed);
    const auto one_of = [&random](std::int64_t count) {
      return static_cast<std::int64_t>(random()) % count;
    };
    Store packing = Store::in_memory();
    Store loose = Store::in_memory();
    for (Store* store : {&packing, &loose}) {
      store->set_days(hochfeld_days());
      store->commit(two_series());
    }
    std::vector<ReadingRow> all;
    for (Instant now = kBegin; now < kBegin + days{5}; now += 3h) {
      Changes changes = with_readings(readings_of(now, now + 3h, 5min), now + 3h);
      // Late ones, some of seconds that are taken, by the same value or another.
      for (int i = 0; i < 12; ++i) {
        changes.readings.push_back(
            {kBegin + std::chrono::seconds{one_of((now + 3h - kBegin) / 1s)},
             1 + one_of(2), one_of(50) * 10});
        if (!all.empty()) {
          ReadingRow again = all[static_cast<std::size_t>(one_of(std::ssize(all)))];
          again.value += one_of(2) * 10;
          changes.readings.push_back(again);
        }
      }
      if (!all.empty()) {
        const ReadingRow& gone = all[static_cast<std::size_t>(one_of(std::ssize(all)))];
        changes.withdrawn = {{.time = gone.time,
                              .series = gone.series,
                              .value = from_milli(gone.value),
                              .doubt = Doubt::kJump}};
      }
      packing.commit(changes);
      loose.commit(changes);
      if (one_of(3) > 0) pack_all(packing, now - std::chrono::hours{one_of(5)});
      all = all_readings(loose, kBegin - days{1}, now + 4h);
    }
    check_same(packing, loose, kBegin + days{5});
    pack_all(packing, kBegin + days{9});
    CHECK(packing.packing().oldest_loose == std::nullopt);
    check_same(packing, loose, kBegin + days{5});
  }
}

TEST_CASE("a day is packed once it is over, and what is under way stays loose") {
  const ScratchFolder folder;
  const auto file = folder.path() / "garden.db";
  Store store = Store::open(file, Store::Access::kReadWrite);
  store.commit(two_series());
  store.commit(with_readings(readings_of(kBegin, kBegin + 30h, 1min), kBegin + 30h));
  CHECK_FALSE(store.pack_some(kBegin + 24h - 1s));
  CHECK(store.pack_some(kBegin + 24h));
  CHECK_FALSE(store.pack_some(kBegin + 30h));
  CHECK(count_in(file, "count(*) FROM chunk") == 2);
  CHECK(count_in(file, "sum(readings) FROM chunk") == 2880);
  CHECK(count_in(file, "count(*) FROM recent") == 720);
  CHECK(store.packing() ==
        PackingState{.oldest_loose = kBegin + 24h, .last_packed = kFirstDay});
  CHECK(store.reading_count() == 3600);
}

TEST_CASE("a late reading of a packed day is packed with it, once") {
  const ScratchFolder folder;
  const auto file = folder.path() / "garden.db";
  Store store = Store::open(file, Store::Access::kReadWrite);
  store.commit(two_series());
  store.commit(with_readings(readings_of(kBegin, kBegin + 24h, 10min), kBegin + 26h));
  pack_all(store, kBegin + 26h);
  // The second is of a second that is taken, by another value.
  const std::vector<ReadingRow> late{{kBegin + 5min, 1, 777}, {kBegin + 10min, 1, -1}};
  store.commit(with_readings(late, kBegin + 26h));
  CHECK(count_in(file, "count(*) FROM recent") == 1);
  REQUIRE(store.doubtful(kBegin, kBegin + 24h).size() == 1);
  CHECK(store.doubtful(kBegin, kBegin + 24h).front().doubt == Doubt::kSameSecond);
  pack_all(store, kBegin + 26h);
  CHECK(count_in(file, "count(*) FROM recent") == 0);
  CHECK(count_in(file, "count(*) FROM chunk") == 2);
  CHECK(store.reading_count() == 289);
  const auto rows = all_readings(store, kBegin + 5min, kBegin + 6min);
  CHECK(rows == std::vector<ReadingRow>{{kBegin + 5min, 1, 777}});
}

TEST_CASE("records are put beside packed days as beside loose ones") {
  Store store = Store::in_memory();
  store.commit(two_series());
  store.commit(with_readings(readings_of(kBegin, kBegin + 24h, 10min), kBegin + 26h));
  pack_all(store, kBegin + 26h);
  const ReadingRow there = all_readings(store, kBegin, kBegin + 1s).front();
  Records records{.series = {air_of(1, "glasshouse")},
                  .readings = {there, {kBegin, 1, -5}, {kBegin + 1s, 1, 5}},
                  .now = kBegin + 26h};
  const auto outcome = store.add_records(records);
  REQUIRE(outcome.size() == 3);
  CHECK(outcome[0] == RecordOutcome{});
  CHECK(outcome[1] == RecordOutcome{.differs = true});
  CHECK(outcome[2] == RecordOutcome{.is_new = true});
}

TEST_CASE("a day of more readings than are packed at once is packed in parts") {
  const ScratchFolder folder;
  const auto file = folder.path() / "garden.db";
  Store store = Store::open(file, Store::Access::kReadWrite);
  store.commit(two_series());
  store.commit(with_readings(readings_of(kBegin, kBegin + 24h, 1s), kBegin + 26h));
  CHECK(store.pack_some(kBegin + 26h));
  CHECK(count_in(file, "sum(readings) FROM chunk") == 86'400);
  CHECK(count_in(file, "count(*) FROM recent WHERE series = 2") == 86'400);
  CHECK(all_readings(store, kBegin, kBegin + 24h) ==
        readings_of(kBegin, kBegin + 24h, 1s));
  CHECK(store.pack_some(kBegin + 26h));
  CHECK_FALSE(store.pack_some(kBegin + 26h));
  CHECK(all_readings(store, kBegin, kBegin + 24h) ==
        readings_of(kBegin, kBegin + 24h, 1s));
}

TEST_CASE("a reader that began before a day was packed sees the day once") {
  const ScratchFolder folder;
  const auto file = folder.path() / "garden.db";
  Store store = Store::open(file, Store::Access::kReadWrite);
  store.commit(two_series());
  store.commit(with_readings(readings_of(kBegin, kBegin + 48h, 1min), kBegin + 50h));
  store.pack_some(kBegin + 25h);
  const Store reader = Store::open(file, Store::Access::kReadOnly);
  std::int64_t seen = 0;
  reader.each_reading(kBegin, kBegin + 48h, [&](const ReadingRow&) {
    if (++seen == 10) pack_all(store, kBegin + 50h);
  });
  CHECK(seen == 2 * 2880);
}

TEST_CASE("a full disk while a day is packed leaves the day loose and whole") {
  Probe probe;
  const ScratchFolder folder;
  const auto file = folder.path() / "garden.db";
  Store store = Store::open(file, Store::Access::kReadWrite);
  store.commit(two_series());
  store.commit(with_readings(readings_of(kBegin, kBegin + 24h, 10s), kBegin + 26h));
  const auto before = all_readings(store, kBegin, kBegin + 24h);
  probe.limit_growth(0);
  CHECK_THROWS_AS(store.pack_some(kBegin + 26h), StoreError);
  CHECK(all_readings(store, kBegin, kBegin + 24h) == before);
  CHECK(count_in(file, "count(*) FROM chunk") == 0);
  probe.lift_limit();
  CHECK(store.pack_some(kBegin + 26h));
  CHECK(all_readings(store, kBegin, kBegin + 24h) == before);
}

TEST_CASE("a packed day that is damaged is named, and harms no other day") {
  const ScratchFolder folder;
  const auto file = folder.path() / "garden.db";
  Store store = Store::open(file, Store::Access::kReadWrite);
  store.commit(two_series());
  store.commit(with_readings(readings_of(kBegin, kBegin + 48h, 1min), kBegin + 50h));
  pack_all(store, kBegin + 50h);
  CHECK(faults_of_store(file).empty());
  {
    Database database(file, Database::Access::kReadWrite);
    database.execute(
        "UPDATE chunk SET packed = substr(packed, 1, length(packed) - 2) WHERE id = 1");
  }
  const auto faults = faults_of_store(file);
  REQUIRE(faults.size() == 1);
  CHECK(faults[0] ==
        "the readings of 2026-04-12 (UTC) of series 1: a packed day whose bytes are "
        "damaged");
  CHECK(all_readings(store, kBegin + 24h, kBegin + 48h).size() == 2880);
  try {
    all_readings(store, kBegin, kBegin + 24h);
    FAIL("a damaged day was read");
  } catch (const StoreError& error) {
    CHECK(
        std::string(error.what())
            .find(
                "garden.db: it is damaged (the readings of 2026-04-12 (UTC) of series 1: "
                "a packed day whose bytes are damaged); restore a backup") !=
        std::string::npos);
  }
}

TEST_CASE("readings that are no longer kept go by the day, and their summaries stay") {
  Store store = Store::in_memory();
  store.set_days(hochfeld_days());
  store.commit(two_series());
  const Instant now = kBegin + days{6};
  store.commit(with_readings(readings_of(kBegin, now, 10min), now));
  pack_all(store, kBegin + days{4});
  const auto hours_before = store.hours(1, kBegin, now);
  const auto days_before = store.days(kFirstDay, kFirstDay + days{6}, hochfeld_days());
  const auto count_before = store.reading_count();
  CHECK(store.readings_kept_from() == std::nullopt);
  int dropped = 0;
  while (store.drop_a_day(kBegin + days{5} + 3h))
    ++dropped;
  CHECK(dropped == 5);
  CHECK(store.reading_count() == count_before - 5 * 288);
  CHECK(store.next_reading(kBegin) == kBegin + days{5});
  CHECK(store.readings_kept_from() == kBegin + days{5});
  CHECK(store.hours(1, kBegin, now) == hours_before);
  CHECK(store.days(kFirstDay, kFirstDay + days{6}, hochfeld_days()) == days_before);
}

TEST_CASE("a reading from before those that are kept is not counted a second time") {
  Store store = Store::in_memory();
  store.set_days(hochfeld_days());
  store.commit(two_series());
  const Instant now = kBegin + days{3};
  store.commit(with_readings(readings_of(kBegin, now, 10min), now));
  while (store.drop_a_day(kBegin + days{2})) {
  }
  const auto hours = store.hours(1, kBegin, now);
  const auto count = store.reading_count();
  store.commit(with_readings({{kBegin + 10min, 1, 0}}, now));
  const auto outcome = store.add_records({.series = {air_of(1, "glasshouse")},
                                          .readings = {{kBegin + 20min, 1, 0}},
                                          .now = now});
  CHECK(outcome == std::vector<RecordOutcome>{{.is_too_old = true}});
  CHECK(store.hours(1, kBegin, now) == hours);
  CHECK(store.reading_count() == count);
}

TEST_CASE("what was written to the medium is added up by the day") {
  Store store = Store::in_memory();
  CHECK(store.written().empty());
  store.add_written(kFirstDay, 1000);
  store.add_written(kFirstDay + days{1}, 5);
  store.add_written(kFirstDay, 234);
  CHECK(store.written() ==
        std::vector<WrittenRow>{{kFirstDay, 1234}, {kFirstDay + days{1}, 5}});
}

}  // namespace
}  // namespace rimeward
