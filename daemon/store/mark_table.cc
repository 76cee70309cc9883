#include "daemon/store/mark_table.h"

#include <algorithm>
#include <array>
#include <chrono>

#include "daemon/store/marks.h"
#include "daemon/store/rows.h"

namespace rimeward {
namespace {

using std::chrono::seconds;

// Where those that move stand: as the migration to version 8 puts them.
struct Moving {
  std::string_view name;
  Instant time;
};
constexpr SeriesId kNoSeries = 0;
constexpr std::array kMoving{Moving{kMarkNow, kEndOfInstants},
                             Moving{kMarkLookedAt, kEndOfInstants + seconds{1}},
                             Moving{kMarkSequence, kEndOfInstants + seconds{2}}};

std::optional<Instant> place_of(std::string_view name) {
  const auto found = std::ranges::find(kMoving, name, &Moving::name);
  return found == kMoving.end() ? std::nullopt : std::optional(found->time);
}

}  // namespace

// One that stays as it is leaves its page as it is.
void MarkTable::put(std::string_view name, std::int64_t value) {
  if (const auto time = place_of(name)) {
    run(database_,
        "INSERT INTO recent (time, series, value_milli) VALUES (?, ?, ?) "
        "ON CONFLICT DO UPDATE SET value_milli = excluded.value_milli "
        "WHERE value_milli <> excluded.value_milli",
        *time, kNoSeries, value);
  } else {
    run(database_,
        "INSERT INTO mark (name, value) VALUES (?, ?) "
        "ON CONFLICT DO UPDATE SET value = excluded.value WHERE value <> excluded.value",
        name, value);
  }
}

std::optional<std::int64_t> MarkTable::find(std::string_view name) const {
  std::int64_t value = 0;
  if (const auto time = place_of(name)) {
    Query query(database_, "SELECT value_milli FROM recent WHERE time = ? AND series = ?",
                *time, kNoSeries);
    if (!query.next()) return std::nullopt;
    query.read(value);
  } else {
    Query query(database_, "SELECT value FROM mark WHERE name = ?", name);
    if (!query.next()) return std::nullopt;
    query.read(value);
  }
  return value;
}

}  // namespace rimeward
