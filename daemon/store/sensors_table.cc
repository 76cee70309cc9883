#include "daemon/store/sensors_table.h"

namespace rimeward {

void SensorsTable::add(const TallyRow& row) {
  const int channel = row.channel ? static_cast<int>(*row.channel) : 0;
  run(database_,
      "INSERT INTO tally (sensor, channel, doubt, count, first_at, last_at) "
      "VALUES (?, ?, ?, ?, ?, ?) ON CONFLICT DO UPDATE SET "
      "count = count + excluded.count, first_at = min(first_at, excluded.first_at), "
      "last_at = max(last_at, excluded.last_at)",
      row.sensor, channel, static_cast<int>(row.doubt), row.count, row.first_at,
      row.last_at);
}

std::vector<TallyRow> SensorsTable::tallies() const {
  Query query(database_,
              "SELECT sensor, channel, doubt, count, first_at, last_at FROM tally "
              "WHERE count > 0 ORDER BY sensor, channel, doubt");
  std::vector<TallyRow> rows;
  while (query.next()) {
    TallyRow& row = rows.emplace_back();
    int channel = 0;
    int doubt = 0;
    query.read(row.sensor, channel, doubt, row.count, row.first_at, row.last_at);
    if (channel != 0) row.channel = static_cast<Channel>(channel);
    row.doubt = static_cast<Doubt>(doubt);
  }
  return rows;
}

void SensorsTable::put(const FactRow& row) {
  run(database_, "INSERT OR REPLACE INTO fact (sensor, name, value) VALUES (?, ?, ?)",
      row.sensor, row.name, row.value);
}

std::vector<FactRow> SensorsTable::facts() const {
  Query query(database_, "SELECT sensor, name, value FROM fact ORDER BY sensor, name");
  std::vector<FactRow> rows;
  while (query.next()) {
    FactRow& row = rows.emplace_back();
    query.read(row.sensor, row.name, row.value);
  }
  return rows;
}

void SensorsTable::put(const HeardRow& row) {
  run(database_,
      "INSERT OR REPLACE INTO heard (topic, first_at, last_at, messages, payload) "
      "VALUES (?, ?, ?, ?, ?)",
      row.topic, row.first_at, row.last_at, row.count, row.payload);
}

void SensorsTable::forget_heard(std::string_view topic) {
  run(database_, "DELETE FROM heard WHERE topic = ?", topic);
}

std::vector<HeardRow> SensorsTable::heard() const {
  Query query(database_,
              "SELECT topic, first_at, last_at, messages, payload FROM heard "
              "ORDER BY topic");
  std::vector<HeardRow> rows;
  while (query.next()) {
    HeardRow& row = rows.emplace_back();
    query.read(row.topic, row.first_at, row.last_at, row.count, row.payload);
  }
  return rows;
}

void SensorsTable::put(const CorrectionRow& row) {
  run(database_,
      "INSERT OR REPLACE INTO correction (id, sensor, channel, since, until, undone, "
      "gain, offset, uncertainty, method, points) "
      "VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
      row.id, row.sensor, static_cast<int>(row.channel), row.since, row.until, row.undone,
      row.gain, row.offset, row.uncertainty, row.method, row.points);
}

std::vector<CorrectionRow> SensorsTable::corrections() const {
  Query query(database_,
              "SELECT id, sensor, channel, since, until, undone, gain, offset, "
              "uncertainty, method, points FROM correction ORDER BY id");
  std::vector<CorrectionRow> rows;
  while (query.next()) {
    CorrectionRow& row = rows.emplace_back();
    int channel = 0;
    query.read(row.id, row.sensor, channel, row.since, row.until, row.undone, row.gain,
               row.offset, row.uncertainty, row.method, row.points);
    row.channel = static_cast<Channel>(channel);
  }
  return rows;
}

}  // namespace rimeward
