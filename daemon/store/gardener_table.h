// What the gardener keeps, did and said: the batches and where they stay, the covers on
// each place, what was opened, the waterings, highs and lows from a notebook, and what
// was said at the terminal for the daemon to take. Not thread-safe.

#pragma once

#include <chrono>
#include <cstdint>
#include <optional>
#include <string_view>
#include <vector>

#include "daemon/store/database.h"
#include "daemon/store/rows.h"

namespace rimeward {

class GardenerTable {
 public:
  // REQUIRES: `database` outlives this and holds the current schema.
  explicit GardenerTable(Database& database) : database_(database) {}

  void put(const CoverRow& row);
  std::vector<CoverRow> covers() const;  // the newest of each place, by place
  // Of one place, oldest first: the one in force at `from` and all since.
  std::vector<CoverRow> covers(std::string_view place, Instant from) const;

  void put(const OpeningRow& row);
  std::vector<OpeningRow> openings() const;  // the newest of each place, by place

  void put(const BatchRow& row);
  std::vector<BatchRow> batches() const;  // by id

  void put(const StayRow& row);
  std::vector<StayRow> stays() const;  // by batch, oldest first

  void put(const WateringRow& row);
  std::vector<WateringRow> waterings() const;  // the newest of each place, by place

  void put(const NotedDayRow& row);
  std::optional<NotedDayRow> noted_day(std::chrono::sys_days date,
                                       std::string_view place) const;
  // By date, then place; `from` and `to` included.
  std::vector<NotedDayRow> noted_days(std::chrono::sys_days from,
                                      std::chrono::sys_days to) const;

  // The id given; larger than every one before. The row's own is passed over.
  std::int64_t add(const ActionRow& row);
  std::vector<ActionRow> actions_after(std::int64_t id) const;  // oldest first

 private:
  Database& database_;
};

}  // namespace rimeward
