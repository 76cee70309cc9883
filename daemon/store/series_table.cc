#include "daemon/store/series_table.h"

namespace rimeward {

void SeriesTable::put(const SeriesRow& row) {
  // Not INSERT OR REPLACE: the row also holds the newest of the summarised readings.
  run(database_,
      "INSERT INTO series (id, sensor, place, channel) VALUES (?, ?, ?, ?) "
      "ON CONFLICT (id) DO UPDATE SET sensor = excluded.sensor, place = excluded.place, "
      "channel = excluded.channel",
      row.id, row.sensor, row.place, static_cast<int>(row.channel));
}

std::vector<SeriesRow> SeriesTable::all() const {
  Query query(database_, "SELECT id, sensor, place, channel FROM series ORDER BY id");
  std::vector<SeriesRow> rows;
  while (query.next()) {
    SeriesRow& row = rows.emplace_back();
    int channel = 0;
    query.read(row.id, row.sensor, row.place, channel);
    row.channel = static_cast<Channel>(channel);
  }
  return rows;
}

std::optional<SeriesRow> SeriesTable::find(SeriesId id) const {
  Query query(database_, "SELECT id, sensor, place, channel FROM series WHERE id = ?",
              id);
  if (!query.next()) return std::nullopt;
  SeriesRow row;
  int channel = 0;
  query.read(row.id, row.sensor, row.place, channel);
  row.channel = static_cast<Channel>(channel);
  return row;
}

void SeriesTable::put(const DoubtfulRow& row) {
  // One more value for one second is worth a row, ten thousand are not.
  const bool known = row.doubt == Doubt::kSameSecond && is_doubtful(row.series, row.time);
  if (known) return;
  run(database_,
      "INSERT OR IGNORE INTO doubtful (time, series, value, doubt, reason) "
      "VALUES (?, ?, ?, ?, ?)",
      row.time, row.series, row.value, static_cast<int>(row.doubt), row.reason);
}

bool SeriesTable::is_doubtful(SeriesId series, Instant time) const {
  Query query(database_, "SELECT 1 FROM doubtful WHERE time = ? AND series = ? LIMIT 1",
              time, series);
  return query.next();
}

void SeriesTable::clear_jump(SeriesId series, Instant time) {
  run(database_, "DELETE FROM doubtful WHERE time = ? AND series = ? AND doubt = ?", time,
      series, static_cast<int>(Doubt::kJump));
}

std::vector<DoubtfulRow> SeriesTable::doubtful(Instant from, Instant to) const {
  Query query(database_,
              "SELECT time, series, value, doubt, reason FROM doubtful "
              "WHERE time >= ? AND time < ? ORDER BY time, series, value",
              from, to);
  return rows_of(query);
}

std::vector<DoubtfulRow> SeriesTable::latest_doubtful(SeriesId series,
                                                      std::size_t count) const {
  Query query(database_,
              "SELECT time, series, value, doubt, reason FROM doubtful "
              "WHERE series = ? ORDER BY time DESC, value LIMIT ?",
              series, static_cast<std::int64_t>(count));
  return rows_of(query);
}

std::vector<DoubtfulRow> SeriesTable::rows_of(Query& query) {
  std::vector<DoubtfulRow> rows;
  while (query.next()) {
    DoubtfulRow& row = rows.emplace_back();
    int doubt = 0;
    query.read(row.time, row.series, row.value, doubt, row.reason);
    row.doubt = static_cast<Doubt>(doubt);
  }
  return rows;
}

}  // namespace rimeward
