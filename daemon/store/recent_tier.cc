#include "daemon/store/recent_tier.h"

namespace rimeward {
namespace {

void visit_all(Query& query, const std::function<void(const ReadingRow&)>& visit) {
  ReadingRow reading;
  while (query.next()) {
    query.read(reading.time, reading.series, reading.value);
    visit(reading);
  }
}

}  // namespace

std::optional<Milli> RecentTier::insert(const ReadingRow& reading) {
  run(database_,
      "INSERT INTO recent (time, series, value_milli) VALUES (?, ?, ?) "
      "ON CONFLICT DO NOTHING",
      reading.time, reading.series, reading.value);
  if (database_.changes() > 0) return std::nullopt;
  Query query(database_, "SELECT value_milli FROM recent WHERE time = ? AND series = ?",
              reading.time, reading.series);
  Milli stored = 0;
  if (query.next()) query.read(stored);
  return stored;
}

bool RecentTier::erase(SeriesId series, Instant time) {
  run(database_, "DELETE FROM recent WHERE time = ? AND series = ?", time, series);
  return database_.changes() > 0;
}

void RecentTier::each(const ReadingSpan& span,
                      const std::function<void(const ReadingRow&)>& visit) const {
  if (span.series) {
    Query query(database_,
                "SELECT time, series, value_milli FROM recent "
                "WHERE time >= ? AND time < ? AND series = ? ORDER BY time",
                span.from, span.to, *span.series);
    visit_all(query, visit);
  } else {
    Query query(database_,
                "SELECT time, series, value_milli FROM recent "
                "WHERE time >= ? AND time < ? ORDER BY time, series",
                span.from, span.to);
    visit_all(query, visit);
  }
}

std::optional<Latest> RecentTier::latest(SeriesId series, Instant from) const {
  Query query(database_,
              "SELECT time, value_milli FROM recent WHERE time >= ? AND series = ? "
              "ORDER BY time DESC LIMIT 1",
              from, series);
  if (!query.next()) return std::nullopt;
  Latest latest;
  query.read(latest.time, latest.value);
  return latest;
}

std::vector<Instant> RecentTier::latest_times(SeriesId series, std::size_t count,
                                              Instant from) const {
  Query query(database_,
              "SELECT time FROM recent WHERE time >= ? AND series = ? "
              "ORDER BY time DESC LIMIT ?",
              from, series, static_cast<std::int64_t>(count));
  std::vector<Instant> times;
  while (query.next())
    query.read(times.emplace_back());
  return times;
}

std::optional<Instant> RecentTier::next(Instant from) const {
  Query query(database_,
              "SELECT time FROM recent WHERE time >= ? AND time < ? ORDER BY time "
              "LIMIT 1",
              from, kEndOfInstants);
  if (!query.next()) return std::nullopt;
  Instant time;
  query.read(time);
  return time;
}

std::optional<Instant> RecentTier::newest() const {
  Query query(database_,
              "SELECT time FROM recent WHERE time < ? ORDER BY time DESC LIMIT 1",
              kEndOfInstants);
  if (!query.next()) return std::nullopt;
  Instant time;
  query.read(time);
  return time;
}

std::int64_t RecentTier::count(Instant from) const {
  Query query(database_, "SELECT count(*) FROM recent WHERE time >= ? AND time < ?", from,
              kEndOfInstants);
  std::int64_t count = 0;
  if (query.next()) query.read(count);
  return count;
}

}  // namespace rimeward
