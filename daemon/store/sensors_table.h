// What is known of sensors besides their readings: doubts by their number, facts,
// corrections, and topics that no sensor has. Not thread-safe.

#pragma once

#include <string_view>
#include <vector>

#include "daemon/store/database.h"
#include "daemon/store/rows.h"

namespace rimeward {

class SensorsTable {
 public:
  // REQUIRES: `database` outlives this and holds the current schema.
  explicit SensorsTable(Database& database) : database_(database) {}

  // Adds the row's count to the one stored.
  void add(const TallyRow& row);
  std::vector<TallyRow> tallies() const;  // by sensor, channel, doubt; none of count 0

  void put(const FactRow& row);
  std::vector<FactRow> facts() const;  // by sensor, name

  void put(const HeardRow& row);
  void forget_heard(std::string_view topic);
  std::vector<HeardRow> heard() const;  // by topic

  void put(const CorrectionRow& row);
  std::vector<CorrectionRow> corrections() const;  // by id

 private:
  Database& database_;
};

}  // namespace rimeward
