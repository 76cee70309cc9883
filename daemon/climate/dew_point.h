// The dew point of the outlook's air. Pure: thread-safe.

#pragma once

#include "sensors/units.h"

namespace rimeward {

// The temperature at which air of this temperature and humidity is saturated over
// water. Humidity is held to 1 to 100 %: a sensor in fog reads above 100, and dew has no
// point at 0.
// Source: the Magnus form with the constants of Alduchov & Eskridge (1996), J. Appl.
// Meteorol. 35, 601-609 (17.625 and 243.04 degrees C), which the coefficients of the
// night-low outlook were fitted with: other constants would shift its features.
Celsius dew_point(Celsius air, RelativeHumidity humidity);

}  // namespace rimeward
