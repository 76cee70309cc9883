// The series, and the readings of theirs that were not believed. Not thread-safe.

#pragma once

#include <vector>

#include "daemon/store/database.h"
#include "daemon/store/rows.h"

namespace rimeward {

class SeriesTable {
 public:
  // REQUIRES: `database` outlives this and holds the current schema.
  explicit SeriesTable(Database& database) : database_(database) {}

  void put(const SeriesRow& row);
  std::vector<SeriesRow> all() const;  // by id

  // Kept once, however often it is put. A value that is not a number is passed over.
  void put(const DoubtfulRow& row);
  std::vector<DoubtfulRow> doubtful(Instant from, Instant to) const;  // oldest first

 private:
  Database& database_;
};

}  // namespace rimeward
