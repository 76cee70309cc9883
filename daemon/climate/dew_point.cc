#include "daemon/climate/dew_point.h"

#include <algorithm>
#include <cmath>

namespace rimeward {
namespace {

constexpr double kSlope = 17.625;
constexpr double kOffset = 243.04;  // degrees C

}  // namespace

Celsius dew_point(Celsius air, RelativeHumidity humidity) {
  const double share = std::clamp(humidity.percent, 1.0, 100.0) / 100.0;
  const double g = std::log(share) + kSlope * air.degrees / (kOffset + air.degrees);
  return {kOffset * g / (kSlope - g)};
}

}  // namespace rimeward
