#include "daemon/store/readings.h"

#include <algorithm>
#include <iterator>
#include <limits>
#include <map>

#include "daemon/store/marks.h"

namespace rimeward {
namespace {

using std::chrono::days;
using std::chrono::seconds;
using std::chrono::sys_days;

Instant begin_of(sys_days day) {
  return day;
}

Instant end_of(sys_days day) {
  return day + days{1};
}

auto time_and_series(const ReadingRow& row) {
  return std::pair(row.time, row.series);
}

// Both in order of time; where both have a second, the first one's.
std::vector<DayReading> merged(const std::vector<DayReading>& first,
                               const std::vector<DayReading>& second) {
  std::vector<DayReading> all;
  all.reserve(first.size() + second.size());
  std::ranges::set_union(first, second, std::back_inserter(all), {}, &DayReading::second,
                         &DayReading::second);
  return all;
}

}  // namespace

std::optional<Milli> Readings::insert(const ReadingRow& reading) {
  if (const auto stored = packed_.find(reading.series, reading.time)) return stored;
  return loose_.insert(reading);
}

bool Readings::erase(SeriesId series, Instant time) {
  return loose_.erase(series, time) || packed_.erase(series, time);
}

void Readings::each(const ReadingSpan& span,
                    const std::function<void(const ReadingRow&)>& visit) const {
  const Snapshot snapshot(database_);
  const Instant to = std::clamp(span.to, kFirstInstant, kEndOfInstants);
  Instant reached = std::clamp(span.from, kFirstInstant, kEndOfInstants);
  while (reached < to) {
    const auto day = packed_.next_day(std::chrono::floor<days>(reached), span.series);
    if (!day || begin_of(*day) >= to) break;
    const Instant from = std::max(reached, begin_of(*day));
    if (reached < from) loose_.each({reached, from, span.series}, visit);
    reached = std::min(to, end_of(*day));
    const ReadingSpan part{from, reached, span.series};
    const std::vector<ReadingRow> old = packed_.day(*day, part);
    std::vector<ReadingRow> all;
    std::ranges::merge(old, loose_of(part), std::back_inserter(all), {}, time_and_series,
                       time_and_series);
    std::ranges::for_each(all, visit);
  }
  if (reached < to) loose_.each({reached, to, span.series}, visit);
}

std::vector<ReadingRow> Readings::loose_of(const ReadingSpan& span) const {
  std::vector<ReadingRow> rows;
  loose_.each(span, [&rows](const ReadingRow& row) { rows.push_back(row); });
  return rows;
}

std::optional<Latest> Readings::latest(SeriesId series, Instant from) const {
  const Snapshot snapshot(database_);
  const auto loose = loose_.latest(series, from);
  const auto day = packed_.last_day(std::chrono::ceil<days>(kEndOfInstants), series);
  if (!day || end_of(*day) <= (loose ? loose->time : from)) return loose;
  const std::vector<DayReading> readings = packed_.day(*day, series);
  if (readings.empty()) return loose;
  const Latest last{*day + seconds{readings.back().second}, readings.back().value};
  if (last.time < from || (loose && loose->time > last.time)) return loose;
  return last;
}

std::vector<Instant> Readings::packed_times(SeriesId series, ChunkTier::Day day,
                                            Instant from) const {
  std::vector<Instant> times;
  for (const DayReading& one : packed_.day(day, series)) {
    if (const Instant time = day + seconds{one.second}; time >= from)
      times.push_back(time);
  }
  std::ranges::reverse(times);
  return times;
}

std::vector<Instant> Readings::latest_times(SeriesId series, std::size_t count,
                                            Instant from) const {
  const Snapshot snapshot(database_);
  std::vector<Instant> times = loose_.latest_times(series, count, from);
  auto day = packed_.last_day(std::chrono::ceil<days>(kEndOfInstants), series);
  for (; day && end_of(*day) > from; day = packed_.last_day(*day, series)) {
    if (times.size() == count && (count == 0 || times.back() >= end_of(*day))) break;
    std::vector<Instant> all;
    std::ranges::merge(times, packed_times(series, *day, from), std::back_inserter(all),
                       std::greater{});
    if (all.size() > count) all.resize(count);
    times = std::move(all);
  }
  return times;
}

std::optional<Instant> Readings::next(Instant from) const {
  const Snapshot snapshot(database_);
  auto next = loose_.next(from);
  const Instant begin = std::clamp(from, kFirstInstant, kEndOfInstants);
  for (auto day = packed_.next_day(std::chrono::floor<days>(begin));
       day && (!next || begin_of(*day) < *next); day = packed_.next_day(*day + days{1})) {
    const auto rows = packed_.day(*day, {begin, end_of(*day), std::nullopt});
    if (rows.empty()) continue;
    return next ? std::min(*next, rows.front().time) : rows.front().time;
  }
  return next;
}

std::optional<Instant> Readings::newest() const {
  const Snapshot snapshot(database_);
  const auto loose = loose_.newest();
  const auto day = packed_.last_day(std::chrono::ceil<days>(kEndOfInstants));
  if (!day || (loose && *loose >= end_of(*day))) return loose;
  const auto rows = packed_.day(*day, {begin_of(*day), end_of(*day), std::nullopt});
  if (rows.empty()) return loose;
  return loose ? std::max(*loose, rows.back().time) : rows.back().time;
}

std::int64_t Readings::count(Instant from) const {
  const Snapshot snapshot(database_);
  const Instant begin = std::clamp(from, kFirstInstant, kEndOfInstants);
  const sys_days whole = std::chrono::ceil<days>(begin);
  std::int64_t count = loose_.count(from) + packed_.count(whole);
  if (begin < begin_of(whole)) {
    const sys_days part = whole - days{1};
    count += std::ssize(packed_.day(part, {begin, end_of(part), std::nullopt}));
  }
  return count;
}

bool Readings::pack_some(Instant at) {
  const auto oldest = loose_.next(kFirstInstant);
  if (!oldest) return false;
  const sys_days day = std::chrono::floor<days>(*oldest);
  if (end_of(day) > at) return false;

  Transaction transaction(database_);
  const SeriesId last = last_series_at_once(day);
  std::map<SeriesId, std::vector<DayReading>> by_series;
  {
    Query query(database_,
                "SELECT time, series, value_milli FROM recent "
                "WHERE time >= ? AND time < ? AND series <= ? ORDER BY time",
                begin_of(day), end_of(day), last);
    ReadingRow row;
    while (query.next()) {
      query.read(row.time, row.series, row.value);
      const auto second = static_cast<std::int32_t>((row.time - begin_of(day)).count());
      by_series[row.series].push_back({second, row.value});
    }
  }
  for (const auto& [series, readings] : by_series) {
    packed_.put(day, series, merged(packed_.day(day, series), readings));
  }
  run(database_, "DELETE FROM recent WHERE time >= ? AND time < ? AND series <= ?",
      begin_of(day), end_of(day), last);
  transaction.commit();
  return true;
}

// So that the work, and the memory it takes, stays small where sensors speak each second.
SeriesId Readings::last_series_at_once(ChunkTier::Day day) const {
  Query query(database_,
              "SELECT series, count(*) FROM recent WHERE time >= ? AND time < ? "
              "GROUP BY series ORDER BY series",
              begin_of(day), end_of(day));
  SeriesId last = std::numeric_limits<SeriesId>::max();
  SeriesId series = 0;
  std::int64_t readings = 0;
  std::int64_t all = 0;
  while (query.next()) {
    query.read(series, readings);
    if (all > 0 && all + readings > kPackedAtOnce) return last;
    all += readings;
    last = series;
  }
  return last;
}

std::int64_t Readings::drop_a_day(Instant keep_from) {
  const auto oldest = next(kFirstInstant);
  if (!oldest) return 0;
  const sys_days day = std::chrono::floor<days>(*oldest);
  if (end_of(day) > keep_from) return 0;
  run(database_, "DELETE FROM recent WHERE time >= ? AND time < ?", begin_of(day),
      end_of(day));
  const std::int64_t loose = database_.changes();
  marks_.put(kMarkKeptFrom,
             std::chrono::floor<days>(keep_from).time_since_epoch().count());
  return loose + packed_.drop(day);
}

std::optional<Instant> Readings::kept_from() const {
  const auto day = marks_.find(kMarkKeptFrom);
  if (!day) return std::nullopt;
  return begin_of(sys_days{days{*day}});
}

PackingState Readings::packing() const {
  const Snapshot snapshot(database_);
  return {.oldest_loose = loose_.next(kFirstInstant),
          .last_packed = packed_.last_day(std::chrono::ceil<days>(kEndOfInstants))};
}

}  // namespace rimeward
