#include "daemon/store/outlooks_table.h"

namespace rimeward {

void OutlooksTable::put(const OutlookRow& row) {
  run(database_,
      "INSERT OR REPLACE INTO outlook (place, night, moment, issued_at, sunset, sunrise, "
      "low_celsius, low10_celsius, low90_celsius, spread_below_kelvins, "
      "spread_above_kelvins, running_low_celsius, humidity_known, air_celsius, "
      "opinion_celsius, rests_on) "
      "VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
      row.place, row.night, row.moment, row.issued_at, row.sunset, row.sunrise, row.low,
      row.low10, row.low90, row.spread_below, row.spread_above, row.running_low,
      row.humidity_known, row.air, row.opinion, row.rests_on);
}

void OutlooksTable::put(const NightRow& row) {
  run(database_,
      "INSERT OR REPLACE INTO night (place, night, low_celsius, low_at, layers, "
      "lift_kelvins) VALUES (?, ?, ?, ?, ?, ?)",
      row.place, row.night, row.low, row.low_at, row.layers, row.lift);
}

void OutlooksTable::put_learned(std::string_view place, std::string_view subject,
                                std::string_view state) {
  run(database_,
      "INSERT OR REPLACE INTO learned (place, subject, state) VALUES (?, ?, ?)", place,
      subject, state);
}

std::vector<OutlookRow> OutlooksTable::outlooks(std::string_view place,
                                                std::chrono::sys_days from,
                                                std::chrono::sys_days to) const {
  Query query(database_,
              "SELECT place, night, moment, issued_at, sunset, sunrise, low_celsius, "
              "low10_celsius, low90_celsius, spread_below_kelvins, spread_above_kelvins, "
              "running_low_celsius, humidity_known, air_celsius, opinion_celsius, "
              "rests_on FROM outlook "
              "WHERE place = ? AND night >= ? AND night <= ? ORDER BY night, moment",
              place, from, to);
  std::vector<OutlookRow> rows;
  while (query.next()) {
    OutlookRow& row = rows.emplace_back();
    query.read(row.place, row.night, row.moment, row.issued_at, row.sunset, row.sunrise,
               row.low, row.low10, row.low90, row.spread_below, row.spread_above,
               row.running_low, row.humidity_known, row.air, row.opinion, row.rests_on);
  }
  return rows;
}

std::vector<NightRow> OutlooksTable::nights(std::string_view place,
                                            std::chrono::sys_days from,
                                            std::chrono::sys_days to) const {
  Query query(database_,
              "SELECT place, night, low_celsius, low_at, layers, lift_kelvins FROM night "
              "WHERE place = ? AND night >= ? AND night <= ? ORDER BY night",
              place, from, to);
  std::vector<NightRow> rows;
  while (query.next()) {
    NightRow& row = rows.emplace_back();
    query.read(row.place, row.night, row.low, row.low_at, row.layers, row.lift);
  }
  return rows;
}

std::optional<std::string> OutlooksTable::learned(std::string_view place,
                                                  std::string_view subject) const {
  Query query(database_, "SELECT state FROM learned WHERE place = ? AND subject = ?",
              place, subject);
  if (!query.next()) return std::nullopt;
  std::string state;
  query.read(state);
  return state;
}

std::optional<std::chrono::sys_days> OutlooksTable::latest_night(
    std::string_view place) const {
  Query query(database_, "SELECT max(night) FROM night WHERE place = ?", place);
  std::optional<std::chrono::sys_days> night;
  if (query.next()) query.read(night);
  return night;
}

}  // namespace rimeward
