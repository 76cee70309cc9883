#include "daemon/climate/night_curve.h"

#include <algorithm>
#include <cmath>

namespace rimeward {

Celsius square_root_trend(const NightCurve& curve, SunTime at) {
  const double share = (at - curve.start) / (curve.sunrise - curve.start);
  const Kelvins change = curve.low - curve.air;
  return {curve.air.degrees + change.degrees * std::sqrt(std::clamp(share, 0.0, 1.0))};
}

std::optional<SunTime> crossing(const NightCurve& curve, Celsius threshold) {
  if (curve.air <= threshold) return curve.start;
  if (curve.low > threshold) return std::nullopt;
  const double share = (curve.air - threshold).degrees / (curve.air - curve.low).degrees;
  return curve.start + share * share * (curve.sunrise - curve.start);
}

}  // namespace rimeward
