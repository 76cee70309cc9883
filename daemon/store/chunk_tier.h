// The tier of packed readings: a row each series and UTC day (daemon/store/packed_day.h).
// Only days that are over are packed. Not thread-safe.
//
// A day that cannot be unpacked throws StoreError with the day, and harms no other.

#pragma once

#include <chrono>
#include <cstdint>
#include <functional>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "daemon/store/database.h"
#include "daemon/store/packed_day.h"
#include "daemon/store/reading_tier.h"

namespace rimeward {

// "the readings of 2026-04-12 (UTC) of series 3", for messages.
std::string name_of_chunk(std::chrono::sys_days day, SeriesId series);

class ChunkTier {
 public:
  using Day = std::chrono::sys_days;

  // REQUIRES: `database` outlives this and holds the current schema.
  explicit ChunkTier(Database& database) : database_(database) {}

  // Replaces what is packed of that day. REQUIRES: a Transaction is open; at least one,
  // in order of time.
  void put(Day day, SeriesId series, const std::vector<DayReading>& readings);
  // Takes one out; false when there is none.
  bool erase(SeriesId series, Instant time);
  // Drops the whole day, of all series; answers how many readings that were.
  std::int64_t drop(Day day);

  // Nothing packed: empty.
  std::vector<DayReading> day(Day day, SeriesId series) const;
  std::optional<Milli> find(SeriesId series, Instant time) const;
  // The readings within the span of that one day, by time, then series.
  std::vector<ReadingRow> day(Day day, const ReadingSpan& span) const;

  // The first packed day that is not before `from`, of the series or of any.
  std::optional<Day> next_day(Day from, std::optional<SeriesId> series = {}) const;
  // The last packed day that is before `before`.
  std::optional<Day> last_day(Day before, std::optional<SeriesId> series = {}) const;
  // How many readings the days from `from` on hold.
  std::int64_t count(Day from) const;

 private:
  // Unpacked once more only where the bytes have changed: a sensor that hands in its day
  // late asks for each reading.
  struct Unpacked {
    Day day;
    std::string bytes;
    std::vector<DayReading> readings;
  };
  const std::vector<DayReading>& look_up(Day day, SeriesId series) const;
  std::vector<DayReading> unpack(Day day, SeriesId series,
                                 const std::string& bytes) const;

  Database& database_;
  mutable std::map<SeriesId, Unpacked> unpacked_;
};

}  // namespace rimeward
