#include "daemon/store/summaries.h"

#include <algorithm>
#include <chrono>
#include <map>
#include <random>
#include <string>

#include <doctest/doctest.h>

#include "tests/daemon/store/store_builders.h"
#include "tests/daemon/store/store_probe.h"
#include "tests/support/scratch_folder.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;
using std::chrono::days;
using std::chrono::sys_days;

using Readings = std::map<std::pair<Instant, SeriesId>, Milli>;

// The plainest way to the same answer: look at every reading.
std::optional<Extremes> by_looking_at_all(const Readings& readings, SeriesId series,
                                          Instant from, Instant to) {
  std::optional<Extremes> found;
  std::set<std::int64_t> hours;
  for (const auto& [key, value] : readings) {
    const auto& [time, id] = key;
    if (id != series || time < from || time >= to) continue;
    if (!found) found = Extremes{value, time, value, time, 0, 0, 0};
    if (value < found->low) {
      found->low = value;
      found->low_at = time;
    }
    if (value > found->high) {
      found->high = value;
      found->high_at = time;
    }
    found->sum += value;
    ++found->count;
    hours.insert(time.time_since_epoch().count() / 3600);
  }
  if (found) found->hours = static_cast<int>(hours.size());
  return found;
}

std::vector<DayRow> days_by_looking_at_all(const Readings& readings, sys_days from,
                                           sys_days to, const DayGrid& grid) {
  std::vector<DayRow> rows;
  for (sys_days day = from; day <= to; day += days{1}) {
    for (SeriesId series = 1; series <= 3; ++series) {
      const auto extremes =
          by_looking_at_all(readings, series, grid.begins(day), grid.ends(day));
      if (extremes) rows.push_back({day, series, *extremes});
    }
  }
  return rows;
}

std::string text_of(const std::vector<DayRow>& rows) {
  std::string text;
  for (const DayRow& row : rows) {
    text += date_text(row.date) + " series " + std::to_string(row.series) + " low " +
            std::to_string(row.extremes.low) + " at " +
            std::to_string(row.extremes.low_at.time_since_epoch().count()) + " count " +
            std::to_string(row.extremes.count) + " hours " +
            std::to_string(row.extremes.hours) + "\n";
  }
  return text;
}

struct Season {
  const char* zone;
  std::chrono::minutes day_starts;
  sys_days first;  // a few days before the clocks change, where they do
};

// Ten days of three series in batches of about two hours: few distinct values, so that
// ties are common; gaps of hours; readings that come days late; a `now` that goes back.
class Recorder {
 public:
  Recorder(Store& store, Instant start) : store_(store), now_(start) {}

  void run_to(Instant end) {
    while (now_ < end) {
      Changes changes;
      const Instant from = now_;
      now_ += std::chrono::minutes{below(240)};
      const bool gap = below(5) == 0;
      if (!gap) put_stretch(changes, from, now_, 900);
      const bool late = below(4) == 0;
      if (late) put_stretch(changes, from - 72h, now_, 86'400);
      changes.now = below(6) == 0 ? now_ - 5h : now_;
      store_.commit(changes);
    }
  }

  const Readings& readings() const { return readings_; }
  Instant random_time(Instant from, Instant to) {
    return from + std::chrono::seconds{below(static_cast<int>((to - from).count()))};
  }

 private:
  int below(int limit) {
    return static_cast<int>(random_() % static_cast<unsigned>(limit));
  }

  void put_stretch(Changes& changes, Instant from, Instant to, int longest_step) {
    for (Instant time = from; time < to;
         time += std::chrono::seconds{1 + below(longest_step)}) {
      const SeriesId series = 1 + below(3);
      const Milli value = Milli{500} * (below(12) - 4);
      if (!readings_.try_emplace({time, series}, value).second) continue;
      changes.readings.push_back({time, series, value});
    }
  }

  Store& store_;
  Instant now_;
  Readings readings_;
  std::mt19937 random_{20'260'412};
};

void check_days(const Store& store, const Readings& all, const Season& season, int stop) {
  const DayGrid grid = day_grid(season.zone, season.day_starts);
  const DayGrid other_grid = day_grid("Australia/Adelaide", 8h);
  const sys_days from = season.first - days{2};
  const sys_days to = season.first + days{14};
  const sys_days one = season.first + days{stop / 2};
  CHECK(text_of(store.days(from, to, grid)) ==
        text_of(days_by_looking_at_all(all, from, to, grid)));
  CHECK(store.days(from, to, grid) == days_by_looking_at_all(all, from, to, grid));
  CHECK(store.days(one, one, grid) == days_by_looking_at_all(all, one, one, grid));
  CHECK(store.days(from, to, other_grid) ==
        days_by_looking_at_all(all, from, to, other_grid));
}

int wrong_spans(const Store& store, Recorder& recorder, Instant start) {
  int wrong = 0;
  for (int i = 0; i < 20; ++i) {
    const SeriesId series = 1 + i % 3;
    const Instant from = recorder.random_time(start - 48h, start + 280h);
    const Instant to = i % 2 == 0 ? from + std::chrono::minutes{7 * i}
                                  : recorder.random_time(from, start + 290h);
    const auto expected = by_looking_at_all(recorder.readings(), series, from, to);
    if (store.extremes(series, from, to) != expected) ++wrong;
  }
  return wrong;
}

void check_spans_and_count(const Store& store, Recorder& recorder, Instant start) {
  CHECK(wrong_spans(store, recorder, start) == 0);
  CHECK(store.reading_count() == static_cast<std::int64_t>(recorder.readings().size()));
}

TEST_CASE("highs and lows are those of every reading looked at, in any zone and season") {
  const Season seasons[] = {
      {"Europe/Berlin", 9h, 2026y / 3 / 26},       // clocks go forward on the 29th
      {"Europe/Berlin", 0h, 2026y / 10 / 22},      // and back on 25 October
      {"Europe/Berlin", 150min, 2026y / 3 / 26},   // at a time of day that is skipped
      {"Asia/Kolkata", 9h, 2026y / 4 / 10},        // UTC+5:30: days begin within an hour
      {"America/St_Johns", 9h, 2026y / 3 / 4},     // UTC-3:30 and a change on the 8th
      {"Asia/Kathmandu", 615min, 2026y / 4 / 10},  // UTC+5:45
      {"UTC", 0h, 2026y / 4 / 10}};
  for (const Season& season : seasons) {
    CAPTURE(season.zone);
    Store store = Store::in_memory();
    store.set_days(day_grid(season.zone, season.day_starts));
    const Instant start = season.first + 5h + 17min;
    Recorder recorder(store, start);
    for (int stop = 1; stop <= 10; ++stop) {
      recorder.run_to(start + std::chrono::hours{25 * stop});
      check_days(store, recorder.readings(), season, stop);
      check_spans_and_count(store, recorder, start);
    }
  }
}

constexpr sys_days kDay = 2026y / 4 / 12;
constexpr Instant kMorning = kDay + 7h;  // 09:00 in Hochfeld: a day begins

// 07:00 to 19:00 UTC of `day`, a reading each half hour, of `value`.
Changes quiet_day(sys_days day, Milli value) {
  Changes changes;
  for (Instant at = day + 7h; at < day + 19h; at += 30min) {
    changes.readings.push_back({at, 1, value});
  }
  changes.now = day + 19h;
  return changes;
}

TEST_CASE("a reading that comes late mends its hour and its day") {
  Store store = Store::in_memory();
  store.set_days(hochfeld_days());
  store.commit(quiet_day(kDay, 5000));
  store.commit(quiet_day(kDay + days{1}, 6000));
  const Instant late = kDay + 10h + 7min;
  store.commit(with_readings({{late, 1, -2000}}, kDay + days{1} + 19h));

  CHECK(store.extremes(1, kDay + 10h, kDay + 11h) == Extremes{.low = -2000,
                                                              .low_at = late,
                                                              .high = 5000,
                                                              .high_at = kDay + 10h,
                                                              .sum = 8000,
                                                              .count = 3,
                                                              .hours = 1});
  const auto rows = store.days(kDay, kDay, hochfeld_days());
  REQUIRE(rows.size() == 1);
  CHECK(rows[0].extremes.low == -2000);
  CHECK(rows[0].extremes.low_at == late);
  CHECK(rows[0].extremes.count == 25);
  CHECK(rows[0].extremes.hours == 12);
}

TEST_CASE(
    "a late reading that equals the low and high takes their times only where it is "
    "earlier") {
  Store store = Store::in_memory();
  store.set_days(hochfeld_days());
  store.commit(quiet_day(kDay, 5000));
  store.commit(with_readings({{kMorning - 5min, 1, 5000}, {kMorning + 1s, 1, 5000}},
                             kDay + days{2}));
  const auto times = [&store](Instant from, Instant to) {
    const Extremes found = store.extremes(1, from, to).value_or(Extremes{});
    return std::pair{found.low_at, found.high_at};
  };
  CHECK(times(kMorning, kMorning + 1h) == std::pair{kMorning, kMorning});
  CHECK(times(kMorning - 1h, kMorning + 1h) ==
        std::pair{kMorning - 5min, kMorning - 5min});
  store.commit(with_readings({{kMorning - 50min, 1, 5000}}, kDay + days{2}));
  CHECK(times(kMorning - 1h, kMorning) == std::pair{kMorning - 50min, kMorning - 50min});
  CHECK(store.days(kDay, kDay, hochfeld_days())[0].extremes.low_at == kMorning);
  CHECK(store.days(kDay - days{1}, kDay, hochfeld_days()).size() == 2);
}

TEST_CASE("a day that ends without a reading in its last hours is still written") {
  const ScratchFolder folder;
  const auto file = folder / "garden.db";
  Store store = Store::open(file, Store::Access::kReadWrite);
  store.set_days(hochfeld_days());
  store.commit(quiet_day(kDay, 5000));
  const std::string written = "SELECT day, readings, hours FROM daily";
  CHECK(sqlite_rows(file, written).empty());
  store.commit(with_readings({}, kDay + days{1} + 6h + 59min));
  CHECK(sqlite_rows(file, written).empty());
  store.commit(with_readings({}, kDay + days{1} + 7h));
  CHECK(sqlite_rows(file, written) ==
        std::vector{std::to_string(kDay.time_since_epoch().count()) + "|24|12"});
}

TEST_CASE(
    "a day that begins within a UTC hour is written though only that hour has a "
    "reading") {
  const ScratchFolder folder;
  const auto file = folder / "garden.db";
  Store store = Store::open(file, Store::Access::kReadWrite);
  store.set_days(day_grid("Asia/Kolkata", 9h));  // begins at 03:30 UTC
  store.commit(with_readings({{kDay + 3h + 40min, 1, 5000}}, kDay + days{3}));
  CHECK(sqlite_rows(file, "SELECT day, hours FROM daily") ==
        std::vector{std::to_string(kDay.time_since_epoch().count()) + "|1"});
}

TEST_CASE("a clock that jumps years ahead and back loses nothing, and takes no time") {
  const ScratchFolder folder;
  Probe probe;
  Store store = Store::open(folder / "garden.db", Store::Access::kReadWrite);
  store.set_days(hochfeld_days());
  store.commit(quiet_day(kDay, 5000));
  probe.forget();
  store.commit(with_readings({}, kDay + days{365 * 50}));
  CHECK(probe.rows() < 100);
  store.commit(quiet_day(kDay + days{1}, 7000));
  store.commit(quiet_day(kDay + days{2}, 6000));
  const auto rows = store.days(kDay, kDay + days{9}, hochfeld_days());
  REQUIRE(rows.size() == 3);
  CHECK(rows[1].extremes.low == 7000);
  CHECK(rows[2].extremes.count == 24);
  CHECK(store.reading_count() == 72);
}

TEST_CASE(
    "days cut by another rule are made anew, and asked for by either rule are right") {
  const ScratchFolder folder;
  const auto file = folder / "garden.db";
  const DayGrid old_grid = hochfeld_days();
  const DayGrid new_grid = day_grid("Asia/Kolkata", 7h + 10min);
  Readings readings;
  {
    Store store = Store::open(file, Store::Access::kReadWrite);
    store.set_days(old_grid);
    Recorder recorder(store, kMorning);
    recorder.run_to(kMorning + 24h * 8);
    readings = recorder.readings();
  }
  const sys_days from = kDay - days{1};
  const sys_days to = kDay + days{9};
  const auto by_old = days_by_looking_at_all(readings, from, to, old_grid);
  const auto by_new = days_by_looking_at_all(readings, from, to, new_grid);
  {
    const Store reader = Store::open(file, Store::Access::kReadOnly);
    CHECK(reader.days(from, to, old_grid) == by_old);
    CHECK(reader.days(from, to, new_grid) == by_new);
  }
  {
    Store writer = Store::open(file, Store::Access::kReadWrite);
    writer.set_days(new_grid);
    CHECK(writer.days(from, to, old_grid) == by_old);
    CHECK(writer.days(from, to, new_grid) == by_new);
  }
  const Store reader = Store::open(file, Store::Access::kReadOnly);
  CHECK(reader.days(from, to, new_grid) == by_new);
  CHECK(sqlite_rows(file, "SELECT day_zone, day_starts_minutes FROM summary_state") ==
        std::vector<std::string>{"Asia/Kolkata|430"});
}

TEST_CASE("the same rule set again writes nothing") {
  const ScratchFolder folder;
  Probe probe;
  {
    Store store = Store::open(folder / "garden.db", Store::Access::kReadWrite);
    store.set_days(hochfeld_days());
    store.commit(quiet_day(kDay, 5000));
  }
  Store store = Store::open(folder / "garden.db", Store::Access::kReadWrite);
  probe.forget();
  store.set_days(hochfeld_days());
  CHECK(probe.statements().size() == 1);
}

TEST_CASE("days written down are not trusted once a commit was made without a rule") {
  const ScratchFolder folder;
  const auto file = folder / "garden.db";
  {
    Store store = Store::open(file, Store::Access::kReadWrite);
    store.set_days(hochfeld_days());
    store.commit(quiet_day(kDay, 5000));
  }
  Store store = Store::open(file, Store::Access::kReadWrite);
  store.commit(quiet_day(kDay + days{1}, 6000));
  store.commit(quiet_day(kDay + days{2}, 7000));
  // To the second at which the third day ends.
  store.commit(with_readings({}, kMorning + 24h * 3));
  const auto rows = store.days(kDay, kDay + days{2}, hochfeld_days());
  CHECK(rows.size() == 3);
  store.set_days(hochfeld_days());
  CHECK(store.days(kDay, kDay + days{2}, hochfeld_days()) == rows);
  CHECK(sqlite_rows(file, "SELECT count(*) FROM daily") == std::vector<std::string>{"3"});
}

}  // namespace
}  // namespace rimeward
