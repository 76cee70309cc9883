// The hourly and daily summaries: kept so that highs and lows never scan readings. Whole
// UTC clock hours before summarised_until() are in `hourly`, the days that ended by then
// in `daily`; what is later is summed from the readings. Not thread-safe.

#pragma once

#include <chrono>
#include <cstdint>
#include <functional>
#include <map>
#include <optional>
#include <set>
#include <utility>
#include <vector>

#include "daemon/base/zone.h"
#include "daemon/store/database.h"
#include "daemon/store/reading_tier.h"
#include "daemon/store/tally.h"

namespace rimeward {

class Summaries {
 public:
  using HourVisit = std::function<void(SeriesId series, const HourRow& row)>;

  // REQUIRES: both outlive this; the database holds the current schema.
  Summaries(Database& database, const ReadingTier& readings)
      : database_(database), readings_(readings) {}

  // How days are cut from now on; makes `daily` anew when it was cut otherwise.
  // REQUIRES: no transaction is open.
  void set_days(const DayGrid& days);
  // Keeps `daily` from now on if it is cut so; else it is no longer to be trusted once
  // hours change, until set_days() makes it anew.
  void follow_days(const DayGrid& days);

  // Nothing before the first advance().
  std::optional<Instant> summarised_until() const;

  // Sums the hours that ended by `now`, puts `late` to the hours that were summed before,
  // and sums those again that `gone` were part of. A `now` before an earlier one undoes
  // nothing.
  // REQUIRES: a Transaction is open; `late` are the readings that were stored in it and
  // are before summarised_until(), each new, and `gone` those taken out, likewise.
  void advance(Instant now, const std::vector<ReadingRow>& late,
               const std::vector<ReadingRow>& gone);

  std::optional<Latest> latest(SeriesId series) const;
  std::optional<Extremes> extremes(SeriesId series, Instant from, Instant to) const;
  // Hours with at least one reading, the one under way too, by time, then series.
  // REQUIRES: the span begins and ends at whole hours.
  void each_hour(const ReadingSpan& span, const HourVisit& visit) const;
  // The same of all series of a channel. REQUIRES: whole hours.
  void each_hour_of(Channel channel, Instant from, Instant to,
                    const HourVisit& visit) const;
  std::vector<DayRow> days(std::chrono::sys_days from, std::chrono::sys_days to,
                           const DayGrid& grid) const;
  std::int64_t reading_count() const;
  // Counts so many less: old ones that are no longer kept. REQUIRES: a Transaction is
  // open.
  void forget(std::int64_t count);

 private:
  struct State {
    std::optional<Instant> summarised_until;
    std::int64_t readings_before = 0;
    std::optional<std::string> day_zone;  // absent: `daily` is not to be trusted
    std::optional<std::int64_t> day_starts_minutes;
  };
  using Hours = std::set<Instant>;  // when each began
  using HoursOfSeries = std::set<std::pair<Instant, SeriesId>>;
  using Newest = std::map<SeriesId, ReadingRow>;  // of those seen, by series

  State state() const;
  void put_state(const State& state);
  static bool is_cut_by(const State& state, const DayGrid& grid);

  std::int64_t sum_hours(const ReadingSpan& span, Hours& changed);
  void put_hour(Instant hour, const Tally& tally);
  HoursOfSeries put_late(const std::vector<ReadingRow>& late);  // those that changed
  void sum_again(const std::vector<ReadingRow>& gone, Instant until, Hours& changed);
  std::optional<Latest> newest_before(SeriesId series, Instant until) const;
  void put_late_hour(Instant hour, SeriesId series, Extremes late);
  void put_newest(const Newest& newest);
  void put_days_of(const Hours& changed, const HoursOfSeries& late_hours,
                   const DayGrid& grid, Instant until);
  void put_day(std::chrono::sys_days day, const DayGrid& grid, Instant until);
  void put_day_of(SeriesId series, std::chrono::sys_days day, const DayGrid& grid,
                  Instant until);
  void sum_day(const ReadingSpan& span, std::chrono::sys_days day, Instant until);
  void put_all_days(const DayGrid& grid, Instant until);
  std::optional<Instant> first_hour(Instant from) const;

  // Sums whole hours from `hourly` as far as they are there, the rest from readings.
  Tally tally(const ReadingSpan& span, std::optional<Instant> summarised_until) const;
  void tally_hours(const ReadingSpan& span, Tally& tally) const;
  void each_stored_hour(const ReadingSpan& span, const HourVisit& visit) const;
  // Those that are not summarised yet.
  void each_open_hour(const ReadingSpan& span, const HourVisit& visit) const;

  Database& database_;
  const ReadingTier& readings_;
  std::optional<DayGrid> grid_;
};

}  // namespace rimeward
