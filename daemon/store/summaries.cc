#include "daemon/store/summaries.h"

#include <algorithm>
#include <array>
#include <string>
#include <string_view>
#include <utility>

namespace rimeward {
namespace {

using std::chrono::hours;
using std::chrono::sys_days;

Instant hour_of(Instant at) {
  return std::chrono::floor<hours>(at);
}

// `newest` of a series, unless `reading` is earlier.
void note(std::map<SeriesId, ReadingRow>& newest, const ReadingRow& reading) {
  const auto [found, is_first] = newest.try_emplace(reading.series, reading);
  if (!is_first && found->second.time < reading.time) found->second = reading;
}

// For all that an hour's row has, of hours from the first value bound to the second.
std::string hours_between(std::string_view rest) {
  return std::string(
             "SELECT hour, series, low_milli, low_at, high_milli, high_at, sum_milli, "
             "readings FROM hourly WHERE hour >= ? AND hour < ? ")
      .append(rest);
}

// Of a query by hours_between().
void visit_hours(Query& query, const Summaries::HourVisit& visit) {
  HourRow row;
  SeriesId series = 0;
  Extremes& of_hour = row.extremes;
  of_hour.hours = 1;
  while (query.next()) {
    query.read(row.hour, series, of_hour.low, of_hour.low_at, of_hour.high,
               of_hour.high_at, of_hour.sum, of_hour.count);
    visit(series, row);
  }
}

}  // namespace

Summaries::State Summaries::state() const {
  Query query(database_,
              "SELECT summarised_until, readings_before, day_zone, day_starts_minutes "
              "FROM summary_state WHERE id = 1");
  State state;
  if (query.next()) {
    query.read(state.summarised_until, state.readings_before, state.day_zone,
               state.day_starts_minutes);
  }
  return state;
}

void Summaries::put_state(const State& state) {
  run(database_,
      "UPDATE summary_state SET summarised_until = ?, readings_before = ?, day_zone = ?, "
      "day_starts_minutes = ? WHERE id = 1",
      state.summarised_until, state.readings_before, state.day_zone,
      state.day_starts_minutes);
}

bool Summaries::is_cut_by(const State& state, const DayGrid& grid) {
  return state.day_zone == grid.zone().name() &&
         state.day_starts_minutes == grid.day_starts().count();
}

std::optional<Instant> Summaries::summarised_until() const {
  return state().summarised_until;
}

void Summaries::set_days(const DayGrid& days) {
  State state = this->state();
  if (!is_cut_by(state, days)) {
    Transaction transaction(database_);
    state = this->state();
    run(database_, "DELETE FROM daily");
    if (state.summarised_until) put_all_days(days, *state.summarised_until);
    state.day_zone = days.zone().name();
    state.day_starts_minutes = days.day_starts().count();
    put_state(state);
    transaction.commit();
  }
  grid_ = days;
}

void Summaries::follow_days(const DayGrid& days) {
  grid_.reset();
  if (is_cut_by(state(), days)) grid_ = days;
}

void Summaries::advance(Instant now, const std::vector<ReadingRow>& late,
                        const std::vector<ReadingRow>& gone) {
  State state = this->state();
  const auto before = state.summarised_until;
  const Instant until = hour_of(now);
  const bool is_further = !before || *before < until;
  if (!is_further && late.empty() && gone.empty()) return;

  Hours changed;
  const HoursOfSeries late_hours = put_late(late);
  state.readings_before += static_cast<std::int64_t>(late.size());
  if (!gone.empty()) sum_again(gone, *before, changed);
  state.readings_before -= static_cast<std::int64_t>(gone.size());
  if (is_further) {
    const ReadingSpan ended{before.value_or(kFirstInstant), until, std::nullopt};
    state.readings_before += sum_hours(ended, changed);
    state.summarised_until = until;
    // A day may end without a reading in its last hours.
    if (before) changed.insert(*before - hours{1});
  }
  if (grid_) {
    put_days_of(changed, late_hours, *grid_, std::max(until, before.value_or(until)));
  } else {
    state.day_zone.reset();
  }
  put_state(state);
}

std::int64_t Summaries::sum_hours(const ReadingSpan& span, Hours& changed) {
  Newest newest;
  Tally tally;
  Instant hour{};
  std::int64_t count = 0;
  readings_.each(span, [&](const ReadingRow& reading) {
    const Instant its_hour = hour_of(reading.time);
    if (its_hour != hour && !tally.empty()) {
      put_hour(hour, tally);
      tally = {};
    }
    hour = its_hour;
    tally.add(reading);
    note(newest, reading);
    changed.insert(changed.end(), hour);
    ++count;
  });
  if (!tally.empty()) put_hour(hour, tally);
  put_newest(newest);
  return count;
}

void Summaries::put_hour(Instant hour, const Tally& tally) {
  for (const auto& [series, extremes] : tally.result()) {
    run(database_,
        "INSERT OR REPLACE INTO hourly (hour, series, low_milli, low_at, high_milli, "
        "high_at, sum_milli, readings) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        hour, series, extremes.low, extremes.low_at, extremes.high, extremes.high_at,
        extremes.sum, extremes.count);
  }
}

Summaries::HoursOfSeries Summaries::put_late(const std::vector<ReadingRow>& late) {
  Newest newest;
  HoursOfSeries late_hours;
  std::map<std::pair<Instant, SeriesId>, Extremes> sums;
  for (const ReadingRow& reading : late) {
    const Instant hour = hour_of(reading.time);
    const auto [sum, is_first] =
        sums.try_emplace({hour, reading.series}, extremes_of(reading));
    if (!is_first) merge(sum->second, extremes_of(reading));
    note(newest, reading);
  }
  for (const auto& [hour_and_series, sum] : sums) {
    put_late_hour(hour_and_series.first, hour_and_series.second, sum);
    late_hours.insert(late_hours.end(), hour_and_series);
  }
  put_newest(newest);
  return late_hours;
}

// Added to what the hour came to, rather than summing the hour's readings again: the same
// numbers, without a scan for each sensor that hands in a day at once, and right also
// where the hour's other readings are no longer kept.
void Summaries::put_late_hour(Instant hour, SeriesId series, Extremes late) {
  {
    Query query(database_,
                "SELECT low_milli, low_at, high_milli, high_at, sum_milli, readings "
                "FROM hourly WHERE hour = ? AND series = ?",
                hour, series);
    if (query.next()) {
      Extremes stored;
      query.read(stored.low, stored.low_at, stored.high, stored.high_at, stored.sum,
                 stored.count);
      merge(late, stored);
    }
  }
  Tally tally;
  tally.add_hour(series, hour, late);
  put_hour(hour, tally);
}

// A low or high that has gone leaves nothing to compute the next one from: the hour's
// readings are summed anew. What is taken out was just stored, so they are still there.
void Summaries::sum_again(const std::vector<ReadingRow>& gone, Instant until,
                          Hours& changed) {
  std::set<std::pair<Instant, SeriesId>> hours_of_series;
  for (const ReadingRow& reading : gone) {
    hours_of_series.emplace(hour_of(reading.time), reading.series);
  }
  for (const auto& [hour, series] : hours_of_series) {
    run(database_, "DELETE FROM hourly WHERE hour = ? AND series = ?", hour, series);
    Tally tally;
    readings_.each({hour, hour + hours{1}, series},
                   [&tally](const ReadingRow& reading) { tally.add(reading); });
    put_hour(hour, tally);
    changed.insert(hour);
  }
  for (const auto& [hour, series] : hours_of_series) {
    const auto newest = newest_before(series, until);
    run(database_, "UPDATE series SET last_at = ?, last_value_milli = ? WHERE id = ?",
        newest ? std::optional(newest->time) : std::nullopt,
        newest ? std::optional(newest->value) : std::nullopt, series);
  }
}

std::optional<Latest> Summaries::newest_before(SeriesId series, Instant until) const {
  Query query(database_,
              "SELECT hour FROM hourly WHERE series = ? AND hour < ? "
              "ORDER BY hour DESC LIMIT 1",
              series, until);
  if (!query.next()) return std::nullopt;
  Instant hour;
  query.read(hour);
  std::optional<Latest> newest;
  readings_.each({hour, std::min(hour + hours{1}, until), series},
                 [&newest](const ReadingRow& reading) {
                   newest = Latest{reading.time, reading.value};
                 });
  return newest;
}

void Summaries::put_newest(const Newest& newest) {
  for (const auto& [series, reading] : newest) {
    run(database_,
        "UPDATE series SET last_at = ?1, last_value_milli = ?2 "
        "WHERE id = ?3 AND (last_at IS NULL OR last_at < ?1)",
        reading.time, reading.value, series);
  }
}

void Summaries::put_days_of(const Hours& changed, const HoursOfSeries& late_hours,
                            const DayGrid& grid, Instant until) {
  // A day may begin within a UTC hour, where the zone's offset is not whole hours.
  const auto days_of = [&grid](Instant hour) {
    return std::array{sys_days(grid.day_of(hour)),
                      sys_days(grid.day_of(hour + hours{1} - std::chrono::seconds{1}))};
  };
  std::set<sys_days> days;
  for (const Instant hour : changed) {
    for (const sys_days day : days_of(hour))
      days.insert(day);
  }
  // Years of one sensor handed in at once must not sum every sensor's days again.
  std::set<std::pair<sys_days, SeriesId>> days_of_series;
  for (const auto& [hour, series] : late_hours) {
    for (const sys_days day : days_of(hour)) {
      if (!days.contains(day)) days_of_series.emplace(day, series);
    }
  }
  for (const sys_days day : days) {
    if (grid.ends(day) <= until) put_day(day, grid, until);
  }
  for (const auto& [day, series] : days_of_series) {
    if (grid.ends(day) <= until) put_day_of(series, day, grid, until);
  }
}

void Summaries::put_day(sys_days day, const DayGrid& grid, Instant until) {
  run(database_, "DELETE FROM daily WHERE day = ?", day);
  sum_day({grid.begins(day), grid.ends(day), std::nullopt}, day, until);
}

void Summaries::put_day_of(SeriesId series, sys_days day, const DayGrid& grid,
                           Instant until) {
  run(database_, "DELETE FROM daily WHERE day = ? AND series = ?", day, series);
  sum_day({grid.begins(day), grid.ends(day), series}, day, until);
}

void Summaries::sum_day(const ReadingSpan& span, sys_days day, Instant until) {
  for (const auto& [series, extremes] : tally(span, until).result()) {
    run(database_,
        "INSERT INTO daily (day, series, low_milli, low_at, high_milli, "
        "high_at, sum_milli, readings, hours) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
        day, series, extremes.low, extremes.low_at, extremes.high, extremes.high_at,
        extremes.sum, extremes.count, extremes.hours);
  }
}

// Goes from each hour that holds something to the next, over empty years in one step.
void Summaries::put_all_days(const DayGrid& grid, Instant until) {
  Instant reached = kFirstInstant;
  while (true) {
    const auto hour = first_hour(hour_of(reached));
    if (!hour) return;
    const sys_days day = grid.day_of(std::max(*hour, reached));
    reached = grid.ends(day);
    if (reached > until) return;
    put_day(day, grid, until);
  }
}

std::optional<Instant> Summaries::first_hour(Instant from) const {
  Query query(database_, "SELECT hour FROM hourly WHERE hour >= ? ORDER BY hour LIMIT 1",
              from);
  if (!query.next()) return std::nullopt;
  Instant hour;
  query.read(hour);
  return hour;
}

Tally Summaries::tally(const ReadingSpan& span,
                       std::optional<Instant> summarised_until) const {
  const Instant from = std::clamp(span.from, kFirstInstant, kEndOfInstants);
  const Instant to = std::clamp(span.to, kFirstInstant, kEndOfInstants);
  const Instant first = std::chrono::ceil<hours>(from);
  const Instant last = std::min(hour_of(to), summarised_until.value_or(first));
  const Instant tail = std::max(first, last);

  Tally tally;
  const auto add = [&tally](const ReadingRow& reading) { tally.add(reading); };
  if (from < first) readings_.each({from, std::min(first, to), span.series}, add);
  if (first < last) tally_hours({first, last, span.series}, tally);
  if (tail < to) readings_.each({tail, to, span.series}, add);
  return tally;
}

void Summaries::tally_hours(const ReadingSpan& span, Tally& tally) const {
  each_stored_hour(span, [&tally](SeriesId series, const HourRow& row) {
    tally.add_hour(series, row.hour, row.extremes);
  });
}

void Summaries::each_stored_hour(const ReadingSpan& span, const HourVisit& visit) const {
  if (span.series) {
    Query query(database_, hours_between("AND series = ? ORDER BY hour"), span.from,
                span.to, *span.series);
    visit_hours(query, visit);
  } else {
    Query query(database_, hours_between("ORDER BY hour, series"), span.from, span.to);
    visit_hours(query, visit);
  }
}

void Summaries::each_hour(const ReadingSpan& span, const HourVisit& visit) const {
  const Snapshot snapshot(database_);
  each_stored_hour(span, visit);
  each_open_hour(span, visit);
}

void Summaries::each_hour_of(Channel channel, Instant from, Instant to,
                             const HourVisit& visit) const {
  const Snapshot snapshot(database_);
  const int number = static_cast<int>(channel);
  Query hours_of(database_,
                 hours_between("AND series IN (SELECT id FROM series WHERE channel = ?) "
                               "ORDER BY hour, series"),
                 from, to, number);
  visit_hours(hours_of, visit);
  std::set<SeriesId> its_series;
  Query series_of(database_, "SELECT id FROM series WHERE channel = ?", number);
  while (series_of.next()) {
    SeriesId id = 0;
    series_of.read(id);
    its_series.insert(id);
  }
  each_open_hour({from, to, std::nullopt}, [&](SeriesId series, const HourRow& row) {
    if (its_series.contains(series)) visit(series, row);
  });
}

void Summaries::each_open_hour(const ReadingSpan& span, const HourVisit& visit) const {
  const Instant tail = std::max(span.from, summarised_until().value_or(span.from));
  if (tail >= span.to) return;
  std::map<std::pair<Instant, SeriesId>, Extremes> sums;
  readings_.each({tail, span.to, span.series}, [&sums](const ReadingRow& reading) {
    const auto [sum, is_first] =
        sums.try_emplace({hour_of(reading.time), reading.series}, extremes_of(reading));
    if (is_first) return;
    merge(sum->second, extremes_of(reading));
    sum->second.hours = 1;
  });
  for (const auto& [hour_and_series, extremes] : sums) {
    visit(hour_and_series.second, {hour_and_series.first, extremes});
  }
}

std::optional<Latest> Summaries::latest(SeriesId series) const {
  const Snapshot snapshot(database_);
  const Instant from = state().summarised_until.value_or(kFirstInstant);
  if (const auto latest = readings_.latest(series, from)) return latest;
  Query query(database_, "SELECT last_at, last_value_milli FROM series WHERE id = ?",
              series);
  std::optional<Instant> time;
  std::optional<Milli> value;
  if (query.next()) query.read(time, value);
  if (!time || !value) return std::nullopt;
  return Latest{*time, *value};
}

std::optional<Extremes> Summaries::extremes(SeriesId series, Instant from,
                                            Instant to) const {
  const Snapshot snapshot(database_);
  const auto result = tally({from, to, series}, summarised_until()).result();
  if (result.empty()) return std::nullopt;
  return result.front().second;
}

std::vector<DayRow> Summaries::days(sys_days from, sys_days to,
                                    const DayGrid& grid) const {
  const Snapshot snapshot(database_);
  std::vector<DayRow> rows;
  const auto newest = readings_.newest();
  if (!newest) return rows;

  const State state = this->state();
  sys_days day = from;
  if (state.summarised_until && is_cut_by(state, grid)) {
    Query query(database_,
                "SELECT day, series, low_milli, low_at, high_milli, high_at, sum_milli, "
                "readings, hours FROM daily WHERE day >= ? AND day <= ? "
                "ORDER BY day, series",
                from, to);
    while (query.next()) {
      DayRow& row = rows.emplace_back();
      Extremes& of_day = row.extremes;
      query.read(row.date, row.series, of_day.low, of_day.low_at, of_day.high,
                 of_day.high_at, of_day.sum, of_day.count, of_day.hours);
    }
    day = std::max(from, sys_days(grid.day_of(*state.summarised_until)));
  }
  const sys_days last = std::min(to, sys_days(grid.day_of(*newest)));
  for (; day <= last; day += std::chrono::days{1}) {
    const ReadingSpan span{grid.begins(day), grid.ends(day), std::nullopt};
    for (auto& [series, extremes] : tally(span, state.summarised_until).result()) {
      rows.push_back({day, series, extremes});
    }
  }
  return rows;
}

std::int64_t Summaries::reading_count() const {
  const Snapshot snapshot(database_);
  const State state = this->state();
  return state.readings_before +
         readings_.count(state.summarised_until.value_or(kFirstInstant));
}

void Summaries::forget(std::int64_t count) {
  run(database_, "UPDATE summary_state SET readings_before = readings_before - ?", count);
}

}  // namespace rimeward
