// Short builders for the tests of the store.

#pragma once

#include <chrono>
#include <stdexcept>
#include <string>
#include <utility>
#include <vector>

#include "daemon/store/store.h"

namespace rimeward {

inline DayGrid day_grid(const std::string& zone, std::chrono::minutes day_starts) {
  auto found = Zone::named(zone);
  if (!found) throw std::runtime_error(found.error().message);
  return {std::move(*found), day_starts};
}

inline DayGrid hochfeld_days() {
  return day_grid("Europe/Berlin", std::chrono::hours{9});
}

inline Instant utc(std::chrono::sys_days day, std::chrono::seconds since_midnight) {
  return day + since_midnight;
}

inline SeriesRow air_of(SeriesId id, const std::string& place) {
  return {.id = id,
          .sensor = place + "-probe",
          .place = place,
          .channel = Channel::kAirTemperature};
}

inline Changes with_readings(std::vector<ReadingRow> readings, Instant now) {
  Changes changes;
  changes.readings = std::move(readings);
  changes.now = now;
  return changes;
}

inline std::vector<ReadingRow> all_readings(const Store& store, Instant from,
                                            Instant to) {
  std::vector<ReadingRow> rows;
  store.each_reading(from, to, [&rows](const ReadingRow& row) { rows.push_back(row); });
  return rows;
}

}  // namespace rimeward
