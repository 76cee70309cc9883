// How records of the past are put beside what is stored: Store::add_records(). Each call
// is one transaction. Not thread-safe.

#pragma once

#include <optional>
#include <span>
#include <vector>

#include "daemon/store/database.h"
#include "daemon/store/gardener_table.h"
#include "daemon/store/readings.h"
#include "daemon/store/series_table.h"
#include "daemon/store/summaries.h"

namespace rimeward {

// REQUIRES: all of one database, and outlive the call.
struct RecordTables {
  Database& database;
  Readings& readings;
  SeriesTable& series;
  Summaries& summaries;
  GardenerTable& gardener;
};

// A series that is made gets an id below zero: those above are the daemon's to give,
// which does not look up what another process gave meanwhile.
// REQUIRES: no transaction is open.
std::vector<RecordOutcome> add_records(const Records& records, const RecordTables& tables,
                                       const std::optional<ActionRow>& with_new);

std::vector<RecordOutcome> add_records(std::span<const NotedDayRow> days,
                                       const RecordTables& tables,
                                       const std::optional<ActionRow>& with_new);

}  // namespace rimeward
