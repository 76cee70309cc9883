// The low of the night that ends on a date and the high of its day, of each place: by the
// thermometers of the store, and where these have no whole day, by what a person noted.

#pragma once

#include <chrono>
#include <map>
#include <optional>
#include <vector>

#include "daemon/base/garden.h"
#include "daemon/base/zone.h"
#include "daemon/store/store.h"
#include "sensors/units.h"

namespace rimeward {

struct HighOrLow {
  Celsius air{};
  std::optional<Instant> at{};  // absent: noted without its time
  int hours = 0;                // of its climatological day, that hold readings
  bool is_noted = false;        // by a person; hours is 0
  bool operator==(const HighOrLow&) const = default;
};

struct DayAndNight {
  std::optional<HighOrLow> low{};   // of the climatological day that ends on the date
  std::optional<HighOrLow> high{};  // of the one that begins on it
  bool operator==(const DayAndNight&) const = default;
};

// By date; dates of which nothing is known are left out.
using HighsAndLows = std::map<std::chrono::sys_days, DayAndNight>;

// Of every place of the garden, in its order. Of several sensors as all_place_days()
// chooses; a whole day of readings is preferred to a note, and a note to a part of a day.
// REQUIRES: from <= to, both included.
std::vector<HighsAndLows> highs_and_lows(const Store& store, const Garden& garden,
                                         std::chrono::sys_days from,
                                         std::chrono::sys_days to, const DayGrid& grid);

}  // namespace rimeward
