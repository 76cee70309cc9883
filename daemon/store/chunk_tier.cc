#include "daemon/store/chunk_tier.h"

#include <algorithm>

#include <fmt/format.h>

#include "sensors/iso_time.h"

namespace rimeward {
namespace {

using std::chrono::days;
using std::chrono::seconds;
using std::chrono::sys_days;

// Of as many series a day is kept unpacked; above that all are let go.
constexpr std::size_t kMostUnpacked = 64;
const std::vector<DayReading> kNone;

sys_days day_of(Instant time) {
  return std::chrono::floor<days>(time);
}

std::int32_t second_of(Instant time) {
  return static_cast<std::int32_t>((time - day_of(time)).count());
}

std::optional<sys_days> day_in(Query& query) {
  if (!query.next()) return std::nullopt;
  sys_days day;
  query.read(day);
  return day;
}

}  // namespace

std::string name_of_chunk(sys_days day, SeriesId series) {
  return fmt::format("the readings of {} (UTC) of series {}",
                     format_utc(day).substr(0, 10), series);
}

void ChunkTier::put(Day day, SeriesId series, const std::vector<DayReading>& readings) {
  const std::string bytes = packed(readings);
  // Before the loose readings go: a fault here must not cost a day.
  if (unpacked(bytes) != readings) {
    throw database_.error(
        fmt::format("{} do not come out of their packed form as they went in, and stay "
                    "loose; check the machine's memory",
                    name_of_chunk(day, series)));
  }
  run(database_, "DELETE FROM chunk WHERE day = ? AND series = ?", day, series);
  run(database_, "INSERT INTO chunk (day, series, readings, packed) VALUES (?, ?, ?, ?)",
      day, series, static_cast<std::int64_t>(readings.size()), Blob{bytes});
}

bool ChunkTier::erase(SeriesId series, Instant time) {
  std::vector<DayReading> readings = look_up(day_of(time), series);
  const auto gone = std::ranges::find(readings, second_of(time), &DayReading::second);
  if (gone == readings.end()) return false;
  readings.erase(gone);
  if (readings.empty()) {
    run(database_, "DELETE FROM chunk WHERE day = ? AND series = ?", day_of(time),
        series);
  } else {
    put(day_of(time), series, readings);
  }
  return true;
}

std::int64_t ChunkTier::drop(Day day) {
  Query query(database_, "SELECT coalesce(sum(readings), 0) FROM chunk WHERE day = ?",
              day);
  std::int64_t count = 0;
  if (query.next()) query.read(count);
  run(database_, "DELETE FROM chunk WHERE day = ?", day);
  return count;
}

std::vector<DayReading> ChunkTier::day(Day day, SeriesId series) const {
  return look_up(day, series);
}

std::optional<Milli> ChunkTier::find(SeriesId series, Instant time) const {
  const auto& readings = look_up(day_of(time), series);
  const auto found =
      std::ranges::lower_bound(readings, second_of(time), {}, &DayReading::second);
  if (found == readings.end() || found->second != second_of(time)) return std::nullopt;
  return found->value;
}

std::vector<ReadingRow> ChunkTier::day(Day day, const ReadingSpan& span) const {
  std::vector<ReadingRow> rows;
  const auto take = [&](SeriesId series, const std::string& bytes) {
    for (const DayReading& one : unpack(day, series, bytes)) {
      const Instant time = day + seconds{one.second};
      if (time >= span.from && time < span.to) rows.push_back({time, series, one.value});
    }
  };
  SeriesId series = 0;
  std::string bytes;
  if (span.series) {
    Query query(database_, "SELECT packed FROM chunk WHERE day = ? AND series = ?", day,
                *span.series);
    if (query.next()) {
      query.read(bytes);
      take(*span.series, bytes);
    }
    return rows;
  }
  Query query(database_, "SELECT series, packed FROM chunk WHERE day = ? ORDER BY series",
              day);
  while (query.next()) {
    query.read(series, bytes);
    take(series, bytes);
  }
  std::ranges::sort(
      rows, {}, [](const ReadingRow& row) { return std::pair(row.time, row.series); });
  return rows;
}

std::optional<ChunkTier::Day> ChunkTier::next_day(Day from,
                                                  std::optional<SeriesId> series) const {
  if (series) {
    Query query(database_,
                "SELECT day FROM chunk WHERE day >= ? AND series = ? "
                "ORDER BY day LIMIT 1",
                from, *series);
    return day_in(query);
  }
  Query query(database_, "SELECT day FROM chunk WHERE day >= ? ORDER BY day LIMIT 1",
              from);
  return day_in(query);
}

std::optional<ChunkTier::Day> ChunkTier::last_day(Day before,
                                                  std::optional<SeriesId> series) const {
  if (series) {
    Query query(database_,
                "SELECT day FROM chunk WHERE day < ? AND series = ? "
                "ORDER BY day DESC LIMIT 1",
                before, *series);
    return day_in(query);
  }
  Query query(database_, "SELECT day FROM chunk WHERE day < ? ORDER BY day DESC LIMIT 1",
              before);
  return day_in(query);
}

std::int64_t ChunkTier::count(Day from) const {
  Query query(database_, "SELECT coalesce(sum(readings), 0) FROM chunk WHERE day >= ?",
              from);
  std::int64_t count = 0;
  if (query.next()) query.read(count);
  return count;
}

const std::vector<DayReading>& ChunkTier::look_up(Day day, SeriesId series) const {
  Query query(database_, "SELECT packed FROM chunk WHERE day = ? AND series = ?", day,
              series);
  if (!query.next()) return kNone;
  std::string bytes;
  query.read(bytes);
  const auto found = unpacked_.find(series);
  if (found != unpacked_.end() && found->second.day == day &&
      found->second.bytes == bytes) {
    return found->second.readings;
  }
  if (unpacked_.size() >= kMostUnpacked) unpacked_.clear();
  Unpacked& kept = unpacked_[series];
  kept = {.day = day, .bytes = bytes, .readings = unpack(day, series, bytes)};
  return kept.readings;
}

std::vector<DayReading> ChunkTier::unpack(Day day, SeriesId series,
                                          const std::string& bytes) const {
  auto readings = unpacked(bytes);
  if (readings) return *std::move(readings);
  throw database_.damage(
      fmt::format("{}: {}", name_of_chunk(day, series), readings.error().message));
}

}  // namespace rimeward
