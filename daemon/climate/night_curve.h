// How the air cools through a clear night, between what was measured in the evening and
// the low that is forecast. Pure: thread-safe.
//
// The square-root trend: the fall grows with the square root of the time, so half of it
// is reached after a quarter of the night. Source: Snyder & de Melo-Abreu (2005), Frost
// Protection: fundamentals, practice and economics, vol. 1, FAO, ch. 5, which starts it
// two hours after sunset (formula from memory).

#pragma once

#include <optional>

#include "daemon/climate/sun.h"
#include "sensors/units.h"

namespace rimeward {

struct NightCurve {
  SunTime start;  // two hours after sunset, or the newest reading since
  Celsius air;    // at the start
  SunTime sunrise;
  Celsius low;  // as forecast, taken to come at sunrise
};

// Outside the curve's span: its nearer end. REQUIRES: start before sunrise.
Celsius square_root_trend(const NightCurve& curve, SunTime at);

// When the falling curve comes down to the threshold; its start where it is there
// already. Nothing when it stays above until sunrise.
std::optional<SunTime> crossing(const NightCurve& curve, Celsius threshold);

}  // namespace rimeward
