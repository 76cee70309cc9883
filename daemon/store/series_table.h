// The series, and the readings of theirs that were not believed. Not thread-safe.

#pragma once

#include <cstddef>
#include <optional>
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
  std::optional<SeriesRow> find(SeriesId id) const;

  // Kept once, however often it is put. A value that is not a number is passed over, and
  // so is a third value for one second.
  void put(const DoubtfulRow& row);
  // What was kept as a jump there is none.
  void clear_jump(SeriesId series, Instant time);
  std::vector<DoubtfulRow> doubtful(Instant from, Instant to) const;  // oldest first
  // Newest first.
  std::vector<DoubtfulRow> latest_doubtful(SeriesId series, std::size_t count) const;

 private:
  static std::vector<DoubtfulRow> rows_of(Query& query);
  bool is_doubtful(SeriesId series, Instant time) const;

  Database& database_;
};

}  // namespace rimeward
