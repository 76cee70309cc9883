// How thirsty the air is: outdoors as a depth of water, under cover as drying demand.
// Pure: thread-safe.
//
// Two measures, because what they need differs. Outdoors a day's high and low stand for
// the radiation, and a depth of water can be set against rain. Under glass or film they
// do not: there the cover and the vents make the range, the share of light that comes
// through is unknown, and the still air is like no field's. What the sensors do measure
// there is how dry the air is, so the vapour pressure deficit is summed over time. It is
// no depth of water, but the same plants under the same cover dry out in step with it.

#pragma once

#include <cstdint>

#include "daemon/base/quantities.h"
#include "sensors/channel.h"
#include "sensors/units.h"

namespace rimeward {

// The depth of water that this much energy evaporates.
// Source: FAO-56, eq. 20: 0.408 mm for 1 MJ/m2.
Millimetres evaporated_by(MegajoulesPerSquareMetre energy);

// A day's evapotranspiration from short, well watered grass outdoors, by the day's high
// and low and the extraterrestrial radiation. Never negative: 0 where the day's mean is
// below -17.8 degrees C. It knows neither wind nor cloud but by the range of temperature:
// sum it over days rather than trust one.
// REQUIRES: `low` is not above `high`.
// Source: Hargreaves & Samani (1985), Appl. Eng. Agric. 1, 96-99, as FAO-56, eq. 52:
// 0.0023 (mean + 17.8) sqrt(high - low) Ra, Ra as millimetres.
Millimetres reference_evapotranspiration(Celsius high, Celsius low,
                                         MegajoulesPerSquareMetre extraterrestrial);

// What one hour adds to the drying demand of a place: the vapour pressure deficit of its
// mean temperature and mean humidity, times the hour, in thousandths of kPa h; never
// negative. Whole numbers, so that a sum does not depend on the order of its hours.
// The deficit of the means is a little under the mean of the deficits: by 1.5 % in an
// hour in which the air warms from 20 to 25 degrees.
std::int64_t drying_demand_of_hour(Milli mean_air, Milli mean_humidity);

// A sum of these.
constexpr KilopascalHours drying_demand(std::int64_t thousandths) {
  return {from_milli(thousandths)};
}

}  // namespace rimeward
