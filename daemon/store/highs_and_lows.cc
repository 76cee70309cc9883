#include "daemon/store/highs_and_lows.h"

#include <algorithm>

#include "daemon/climate/coverage.h"
#include "daemon/store/place_hours.h"

namespace rimeward {
namespace {

using std::chrono::days;
using std::chrono::sys_days;

// What the readings of a climatological day came to.
HighsAndLows measured(const DaysByDate& by_date, sys_days from, sys_days to) {
  HighsAndLows result;
  for (const auto& [day, extremes] : by_date) {
    const sys_days morning = day + days{1};
    if (morning >= from && morning <= to) {
      result[morning].low = {.air = Celsius{from_milli(extremes.low)},
                             .at = extremes.low_at,
                             .hours = extremes.hours};
    }
    if (day >= from && day <= to) {
      result[day].high = {.air = Celsius{from_milli(extremes.high)},
                          .at = extremes.high_at,
                          .hours = extremes.hours};
    }
  }
  return result;
}

// Puts what was noted in the place of nothing and of a part of a day.
void put_note(std::optional<HighOrLow>& known, std::optional<Milli> noted,
              std::optional<Instant> at) {
  const bool is_whole = known && known->hours >= kWholeDay;
  if (!noted || is_whole) return;
  known = {.air = Celsius{from_milli(*noted)}, .at = at, .hours = 0, .is_noted = true};
}

}  // namespace

std::vector<HighsAndLows> highs_and_lows(const Store& store, const Garden& garden,
                                         sys_days from, sys_days to,
                                         const DayGrid& grid) {
  std::vector<HighsAndLows> result;
  result.reserve(garden.places.size());
  for (const DaysByDate& by_date :
       all_place_days(store, garden, from - days{1}, to, grid)) {
    result.push_back(measured(by_date, from, to));
  }
  for (const NotedDayRow& row : store.noted_days(from, to)) {
    const auto place = std::ranges::find(garden.places, row.place, &Place::id);
    if (place == garden.places.end()) continue;
    HighsAndLows& known = result[static_cast<std::size_t>(place - garden.places.begin())];
    if (!row.low && !row.high) continue;
    DayAndNight& day = known[row.date];
    put_note(day.low, row.low, row.low_at);
    put_note(day.high, row.high, row.high_at);
  }
  return result;
}

}  // namespace rimeward
