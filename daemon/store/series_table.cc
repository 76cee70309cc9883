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

void SeriesTable::put(const DoubtfulRow& row) {
  run(database_,
      "INSERT OR IGNORE INTO doubtful (time, series, value, reason) VALUES (?, ?, ?, ?)",
      row.time, row.series, row.value, row.reason);
}

std::vector<DoubtfulRow> SeriesTable::doubtful(Instant from, Instant to) const {
  Query query(database_,
              "SELECT time, series, value, reason FROM doubtful "
              "WHERE time >= ? AND time < ? ORDER BY time, series, value",
              from, to);
  std::vector<DoubtfulRow> rows;
  while (query.next()) {
    DoubtfulRow& row = rows.emplace_back();
    query.read(row.time, row.series, row.value, row.reason);
  }
  return rows;
}

}  // namespace rimeward
