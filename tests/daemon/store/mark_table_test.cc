#include "daemon/store/mark_table.h"

#include <chrono>
#include <cstdint>
#include <filesystem>

#include <doctest/doctest.h>

#include "daemon/store/marks.h"
#include "daemon/store/store.h"
#include "tests/daemon/store/store_builders.h"
#include "tests/support/scratch_folder.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;

constexpr Instant kNoon = std::chrono::sys_days{2026y / 4 / 12} + 12h;

Changes a_minute(Instant at, std::int64_t sequence) {
  Changes changes = with_readings({{at, 1, 4300}, {at + 1s, -1, 81'000}}, at + 2s);
  changes.marks = {{kMarkNow, at.time_since_epoch().count()},
                   {kMarkLookedAt, at.time_since_epoch().count() - 7},
                   {kMarkSequence, sequence},
                   {kMarkAction, 12},
                   {kMarkClockByReadings, 0}};
  return changes;
}

// The second as an import numbers it.
Store two_series(const std::filesystem::path& file) {
  Store store = Store::open(file, Store::Access::kReadWrite);
  Changes changes;
  changes.series = {air_of(1, "yard"), air_of(-1, "frame")};
  changes.now = kNoon;
  store.commit(changes);
  return store;
}

TEST_CASE("each mark keeps its last value, and one that was never put is none") {
  const ScratchFolder folder;
  Store store = two_series(folder / "garden.db");
  CHECK_FALSE(store.mark(kMarkNow));
  CHECK_FALSE(store.mark(kMarkSequence));
  CHECK_FALSE(store.mark(kMarkAction));
  store.commit(a_minute(kNoon, 98));
  store.commit(a_minute(kNoon + 1min, 99));
  CHECK(store.mark(kMarkNow) == (kNoon + 1min).time_since_epoch().count());
  CHECK(store.mark(kMarkLookedAt) == (kNoon + 1min).time_since_epoch().count() - 7);
  CHECK(store.mark(kMarkSequence) == 99);
  CHECK(store.mark(kMarkAction) == 12);
  CHECK(store.mark(kMarkClockByReadings) == 0);
  CHECK_FALSE(store.mark(kMarkKeptFrom));
}

TEST_CASE("no mark is taken for a reading") {
  const ScratchFolder folder;
  Store store = two_series(folder / "garden.db");
  Changes only_marks = a_minute(kNoon, 98);
  only_marks.readings.clear();
  store.commit(only_marks);
  CHECK(store.reading_count() == 0);
  CHECK_FALSE(store.next_reading(Instant::min()));
  CHECK_FALSE(store.packing().oldest_loose);

  store.commit(a_minute(kNoon, 99));
  CHECK(store.reading_count() == 2);
  CHECK(all_readings(store, Instant::min(), Instant::max()).size() == 2);
  CHECK(store.latest(-1)->time == kNoon + 1s);
  CHECK_FALSE(store.next_reading(kNoon + 2s));

  REQUIRE(store.pack_some(kNoon + 24h));
  CHECK_FALSE(store.pack_some(Instant::max()));
  CHECK(store.reading_count() == 2);
  CHECK(store.mark(kMarkSequence) == 99);
}

// What a card wears by: each page of a commit is written to the log.
TEST_CASE("a minute's readings and marks are one page of the log") {
  const ScratchFolder folder;
  const auto file = folder / "garden.db";
  Store store = two_series(file);
  store.commit(a_minute(kNoon, 1));
  const auto log_bytes = [&] {
    return std::filesystem::file_size(file.string() + "-wal");
  };
  const auto before = log_bytes();
  constexpr int kMinutes = 20;
  for (int minute = 1; minute <= kMinutes; ++minute)
    store.commit(a_minute(kNoon + minute * 1min, 1 + minute));
  // A frame is a page with 24 bytes before it (sqlite.org/fileformat2.html, section 4.1).
  CHECK(log_bytes() - before == kMinutes * (4096 + 24));
}

}  // namespace
}  // namespace rimeward
