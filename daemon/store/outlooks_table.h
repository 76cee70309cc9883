// Outlooks as issued, what the nights came to, and what the forecast of each place has
// learned. Not thread-safe.

#pragma once

#include <chrono>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/store/database.h"
#include "daemon/store/rows.h"

namespace rimeward {

class OutlooksTable {
 public:
  // REQUIRES: `database` outlives this and holds the current schema.
  explicit OutlooksTable(Database& database) : database_(database) {}

  void put(const OutlookRow& row);
  void put(const NightRow& row);
  void put_learned(std::string_view place, std::string_view subject,
                   std::string_view state);

  // from <= night <= to, oldest first, a night's outlooks in order of moment.
  std::vector<OutlookRow> outlooks(std::string_view place, std::chrono::sys_days from,
                                   std::chrono::sys_days to) const;
  std::optional<std::chrono::sys_days> latest_night(std::string_view place) const;
  std::vector<NightRow> nights(std::string_view place, std::chrono::sys_days from,
                               std::chrono::sys_days to) const;
  std::optional<std::string> learned(std::string_view place,
                                     std::string_view subject) const;

 private:
  Database& database_;
};

}  // namespace rimeward
