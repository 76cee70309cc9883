#include "daemon/store/gardener_table.h"

namespace rimeward {

void GardenerTable::put(const CoverRow& row) {
  run(database_, "INSERT OR REPLACE INTO cover (place, since, layers) VALUES (?, ?, ?)",
      row.place, row.since, row.layers);
}

std::vector<CoverRow> GardenerTable::covers() const {
  // The other columns are those of the row that max() picks: SQLite's own promise.
  Query query(
      database_,
      "SELECT place, max(since), layers FROM cover GROUP BY place ORDER BY place");
  std::vector<CoverRow> rows;
  while (query.next()) {
    CoverRow& row = rows.emplace_back();
    query.read(row.place, row.since, row.layers);
  }
  return rows;
}

std::vector<CoverRow> GardenerTable::covers(std::string_view place, Instant from) const {
  Query query(database_,
              "SELECT place, since, layers FROM cover WHERE place = ?1 AND since >= "
              "(SELECT coalesce(max(since), ?2) FROM cover WHERE place = ?1 AND "
              "since <= ?2) ORDER BY since",
              place, from);
  std::vector<CoverRow> rows;
  while (query.next()) {
    CoverRow& row = rows.emplace_back();
    query.read(row.place, row.since, row.layers);
  }
  return rows;
}

void GardenerTable::put(const OpeningRow& row) {
  run(database_, "INSERT OR REPLACE INTO opening (place, since, open) VALUES (?, ?, ?)",
      row.place, row.since, row.open);
}

std::vector<OpeningRow> GardenerTable::openings() const {
  // As in covers().
  Query query(
      database_,
      "SELECT place, max(since), open FROM opening GROUP BY place ORDER BY place");
  std::vector<OpeningRow> rows;
  while (query.next()) {
    OpeningRow& row = rows.emplace_back();
    query.read(row.place, row.since, row.open);
  }
  return rows;
}

void GardenerTable::put(const BatchRow& row) {
  run(database_,
      "INSERT OR REPLACE INTO batch (id, crop, sown, count, next_place, finished) "
      "VALUES (?, ?, ?, ?, ?, ?)",
      row.id, row.crop, row.sown, row.count, row.next_place, row.finished);
}

std::vector<BatchRow> GardenerTable::batches() const {
  Query query(database_,
              "SELECT id, crop, sown, count, next_place, finished FROM batch "
              "ORDER BY id");
  std::vector<BatchRow> rows;
  while (query.next()) {
    BatchRow& row = rows.emplace_back();
    query.read(row.id, row.crop, row.sown, row.count, row.next_place, row.finished);
  }
  return rows;
}

void GardenerTable::put(const StayRow& row) {
  run(database_, "INSERT OR REPLACE INTO stay (batch, since, place) VALUES (?, ?, ?)",
      row.batch, row.since, row.place);
}

std::vector<StayRow> GardenerTable::stays() const {
  Query query(database_, "SELECT batch, since, place FROM stay ORDER BY batch, since");
  std::vector<StayRow> rows;
  while (query.next()) {
    StayRow& row = rows.emplace_back();
    query.read(row.batch, row.since, row.place);
  }
  return rows;
}

void GardenerTable::put(const WateringRow& row) {
  run(database_, "INSERT OR REPLACE INTO watering (place, at) VALUES (?, ?)", row.place,
      row.at);
}

std::vector<WateringRow> GardenerTable::waterings() const {
  Query query(database_,
              "SELECT place, max(at) FROM watering GROUP BY place ORDER BY place");
  std::vector<WateringRow> rows;
  while (query.next()) {
    WateringRow& row = rows.emplace_back();
    query.read(row.place, row.at);
  }
  return rows;
}

void GardenerTable::put(const NotedDayRow& row) {
  run(database_,
      "INSERT OR REPLACE INTO noted_day (date, place, low_milli, low_at, high_milli, "
      "high_at) VALUES (?, ?, ?, ?, ?, ?)",
      row.date, row.place, row.low, row.low_at, row.high, row.high_at);
}

std::optional<NotedDayRow> GardenerTable::noted_day(std::chrono::sys_days date,
                                                    std::string_view place) const {
  Query query(database_,
              "SELECT low_milli, low_at, high_milli, high_at FROM noted_day "
              "WHERE date = ? AND place = ?",
              date, place);
  if (!query.next()) return std::nullopt;
  NotedDayRow row{.date = date, .place = std::string(place)};
  query.read(row.low, row.low_at, row.high, row.high_at);
  return row;
}

std::vector<NotedDayRow> GardenerTable::noted_days(std::chrono::sys_days from,
                                                   std::chrono::sys_days to) const {
  Query query(database_,
              "SELECT date, place, low_milli, low_at, high_milli, high_at "
              "FROM noted_day WHERE date >= ? AND date <= ? ORDER BY date, place",
              from, to);
  std::vector<NotedDayRow> rows;
  while (query.next()) {
    NotedDayRow& row = rows.emplace_back();
    query.read(row.date, row.place, row.low, row.low_at, row.high, row.high_at);
  }
  return rows;
}

std::int64_t GardenerTable::add(const ActionRow& row) {
  run(database_,
      "INSERT INTO action (said_at, verb, place, layers, notice, sensor, detail) "
      "VALUES (?, ?, ?, ?, ?, ?, ?)",
      row.at, row.verb, row.place, row.layers, row.notice, row.sensor, row.detail);
  return database_.last_row_id();
}

std::vector<ActionRow> GardenerTable::actions_after(std::int64_t id) const {
  Query query(
      database_,
      "SELECT id, said_at, verb, place, layers, notice, sensor, detail FROM action "
      "WHERE id > ? ORDER BY id",
      id);
  std::vector<ActionRow> rows;
  while (query.next()) {
    ActionRow& row = rows.emplace_back();
    query.read(row.id, row.at, row.verb, row.place, row.layers, row.notice, row.sensor,
               row.detail);
  }
  return rows;
}

}  // namespace rimeward
