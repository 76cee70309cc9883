#include "daemon/climate/humidity.h"

#include <algorithm>
#include <cmath>

namespace rimeward {
namespace {

// Buck (1996), over water.
constexpr double kWaterAtZero = 0.61121;  // kPa
constexpr double kWaterSlope = 18.678;
constexpr double kWaterOffset = 257.14;  // degrees C
constexpr double kWaterBend = 234.5;     // degrees C

// WMO-No. 8, over ice.
constexpr double kIceAtZero = 0.6112;  // kPa
constexpr double kIceSlope = 22.46;
constexpr double kIceOffset = 272.62;  // degrees C

constexpr double kKelvinsAtZero = 273.15;
// By the gas law a cubic metre holds e / (461.5 T) kilograms, with e in pascals.
constexpr double kGramKelvinsPerKilopascal = 1000.0 * 1000.0 / 461.5;

double share(RelativeHumidity humidity) {
  return std::clamp(humidity.percent, 0.0, 100.0) / 100.0;
}

// The air that flows past a wet bulb.
struct Draught {
  Celsius air;
  Kilopascals vapour;
  Hectopascals pressure;
};

// The two sides of the psychrometer equation, one less the other, in kPa: rises with the
// bulb's temperature and is 0 at the wet bulb.
double excess_over_water(Celsius bulb, const Draught& draught) {
  const double pressure = draught.pressure.hectopascals / 10.0;
  const double cooled = (draught.air - bulb).degrees;
  return saturation_pressure(bulb).kilopascals -
         6.53e-4 * (1.0 + 9.44e-4 * bulb.degrees) * pressure * cooled -
         draught.vapour.kilopascals;
}

double excess_over_ice(Celsius bulb, const Draught& draught) {
  const double pressure = draught.pressure.hectopascals / 10.0;
  const double cooled = (draught.air - bulb).degrees;
  return saturation_pressure_over_ice(bulb).kilopascals - 5.75e-4 * pressure * cooled -
         draught.vapour.kilopascals;
}

}  // namespace

Kilopascals saturation_pressure(Celsius air) {
  const double t = air.degrees;
  return {kWaterAtZero *
          std::exp((kWaterSlope - t / kWaterBend) * t / (kWaterOffset + t))};
}

Kilopascals saturation_pressure_over_ice(Celsius ice) {
  const double t = ice.degrees;
  return {kIceAtZero * std::exp(kIceSlope * t / (kIceOffset + t))};
}

Kilopascals saturation_pressure_fao56(Celsius air) {
  const double t = air.degrees;
  return {0.6108 * std::exp(17.27 * t / (t + 237.3))};
}

Kilopascals vapour_pressure(Celsius air, RelativeHumidity humidity) {
  return {saturation_pressure(air).kilopascals * share(humidity)};
}

RelativeHumidity relative_humidity(Kilopascals vapour, Celsius air) {
  return {100.0 * vapour.kilopascals / saturation_pressure(air).kilopascals};
}

Kilopascals vapour_pressure_deficit(Celsius air, RelativeHumidity humidity) {
  return {saturation_pressure_fao56(air).kilopascals * (1.0 - share(humidity))};
}

std::optional<Celsius> dew_point(Kilopascals vapour) {
  if (!(vapour.kilopascals > 0.0)) return std::nullopt;
  // With y the logarithm, Buck's form is t^2 / bend - (slope - y) t + y offset = 0; the
  // smaller root, written so that nothing cancels near 0.
  const double y = std::log(vapour.kilopascals / kWaterAtZero);
  const double b = kWaterSlope - y;
  const double root = std::sqrt(b * b - 4.0 * y * kWaterOffset / kWaterBend);
  return Celsius{2.0 * y * kWaterOffset / (b + root)};
}

std::optional<Celsius> frost_point(Kilopascals vapour) {
  if (!(vapour.kilopascals > 0.0) || vapour.kilopascals >= kIceAtZero)
    return std::nullopt;
  const double y = std::log(vapour.kilopascals / kIceAtZero);
  return Celsius{kIceOffset * y / (kIceSlope - y)};
}

Celsius wet_bulb(Celsius air, RelativeHumidity humidity, Hectopascals pressure) {
  const Draught draught{air, vapour_pressure(air, humidity), pressure};
  const bool frozen = air.degrees < 0.0 || excess_over_water({0.0}, draught) > 0.0;
  Celsius above = frozen ? std::min(air, Celsius{0.0}) : air;
  // No bulb is 100 degrees colder than the air: even dry air of 70 cools it by less.
  Celsius below = air - Kelvins{100.0};
  while (above - below > Kelvins{1e-9}) {
    const Celsius middle = below + Kelvins{(above - below).degrees / 2.0};
    const double excess =
        frozen ? excess_over_ice(middle, draught) : excess_over_water(middle, draught);
    if (excess > 0.0) {
      above = middle;
    } else {
      below = middle;
    }
  }
  return above;
}

GramsPerCubicMetre absolute_humidity(Celsius air, RelativeHumidity humidity) {
  const double kelvins = air.degrees + kKelvinsAtZero;
  return {kGramKelvinsPerKilopascal * vapour_pressure(air, humidity).kilopascals /
          kelvins};
}

}  // namespace rimeward
