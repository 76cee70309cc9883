// The marks of daemon/store/marks.h. Not thread-safe.
//
// Most stand in a table of their own. Those that move with every commit would make each
// of them write that table's page besides the one that takes the readings, and a third
// more reach the card (47 MB a day of twenty sensors, not 37): they stand behind the
// newest reading, as rows of `recent` from the end of all instants on, under series 0,
// which no reading has.

#pragma once

#include <cstdint>
#include <optional>
#include <string_view>

#include "daemon/store/database.h"

namespace rimeward {

class MarkTable {
 public:
  // REQUIRES: `database` outlives this and holds the current schema.
  explicit MarkTable(Database& database) : database_(database) {}

  void put(std::string_view name, std::int64_t value);
  std::optional<std::int64_t> find(std::string_view name) const;

 private:
  Database& database_;
};

}  // namespace rimeward
