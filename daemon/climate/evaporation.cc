#include "daemon/climate/evaporation.h"

#include <algorithm>
#include <cmath>

#include "daemon/climate/humidity.h"

namespace rimeward {

Millimetres evaporated_by(MegajoulesPerSquareMetre energy) {
  return {0.408 * energy.megajoules};
}

Millimetres reference_evapotranspiration(Celsius high, Celsius low,
                                         MegajoulesPerSquareMetre extraterrestrial) {
  const double mean = (high.degrees + low.degrees) / 2.0;
  const double warmth = std::max(mean + 17.8, 0.0);
  return {0.0023 * warmth * std::sqrt((high - low).degrees) *
          evaporated_by(extraterrestrial).millimetres};
}

std::int64_t drying_demand_of_hour(Milli mean_air, Milli mean_humidity) {
  const Kilopascals deficit =
      vapour_pressure_deficit({from_milli(mean_air)}, {from_milli(mean_humidity)});
  return std::llround(deficit.kilopascals * 1000.0);
}

}  // namespace rimeward
