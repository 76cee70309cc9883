// Simple forecasts of the night's low that an outlook must beat to earn its keep, made
// from the same readings at the same moment, with no more hindsight. Pure.

#pragma once

#include <array>
#include <cstddef>
#include <optional>
#include <span>
#include <string_view>

#include "daemon/climate/outlook.h"
#include "sensors/units.h"

namespace rimeward {

// One moment's outlook of one night, and the low that came.
struct JudgedNight {
  Outlook outlook;
  Celsius came;
};

struct Yardstick {
  std::string_view name;
  // For the night that follows `past` (oldest first, all of one moment). Nothing where it
  // has nothing to say yet.
  std::optional<Celsius> (*forecast)(std::span<const JudgedNight> past,
                                     const Outlook& tonight);
};

// The low of last night; the air now less the mean fall of 14 nights; and the FAO's
// regression on air temperature and dew point (daemon/climate/fao_regression.h), in the
// book's two steps, fitted to all nights so far.
std::span<const Yardstick> yardsticks();

// The mean absolute error of a yardstick over those nights after the first `skipped` on
// which it has something to say; nothing without such a night.
std::optional<Kelvins> mean_absolute_error(const Yardstick& yardstick,
                                           std::span<const JudgedNight> nights,
                                           std::size_t skipped);

}  // namespace rimeward
