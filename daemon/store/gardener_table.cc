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
