// Moist air: the pressure of its water vapour, and what follows from it. Pure:
// thread-safe.
//
// Made for air of -40 to 60 degrees C. Relative humidity is over water at every
// temperature, as humidity sensors report it. A humidity outside 0 to 100 % counts as the
// nearer end: a sensor in fog reads above 100.
//
// Which dew point: this file's, by dew_point(vapour_pressure(air, humidity)), wherever
// something can condense or is shown. daemon/climate/dew_point.h is the outlook's alone,
// whose coefficients were fitted with its constants; the two differ by up to 0.05 degrees
// from 20 % of humidity on, by 0.16 in drier air.

#pragma once

#include <optional>

#include "daemon/base/quantities.h"
#include "sensors/units.h"

namespace rimeward {

// The standard pressure at sea level.
inline constexpr Hectopascals kSeaLevelPressure{1013.25};

// The vapour pressure of air saturated over water, below freezing over supercooled water.
// Source: Buck Research CR-1A manual (1996), 6.1121 exp[(18.678 - t/234.5) t/(257.14 +
// t)] hPa. Against IAPWS (Wagner & Pruss 1993) above freezing and Murphy & Koop (2005,
// eq. 10) below: within 0.065 % from -20 to 50 degrees C, 0.35 % at -40.
Kilopascals saturation_pressure(Celsius air);

// The same over ice: lower than over water at every temperature below 0, the more the
// colder. Means nothing above 0.
// Source: WMO-No. 8, part I, ch. 4, annex 4.B: 6.112 exp[22.46 t/(272.62 + t)] hPa.
// Against IAPWS R14-08: within 0.07 % from -40 to 0 degrees C.
Kilopascals saturation_pressure_over_ice(Celsius ice);

// As saturation_pressure(), in the form that the tables and worked examples of FAO-56 are
// reckoned with: for arithmetic that has to give their figures. Within 0.14 % of IAPWS
// from 0 to 50 degrees C, but 0.7 % low at -20.
// Source: Allen, Pereira, Raes & Smith (1998), FAO Irrigation and Drainage Paper 56, eq.
// 11: 0.6108 exp[17.27 t/(t + 237.3)] kPa.
Kilopascals saturation_pressure_fao56(Celsius air);

// Of the water vapour that air of this humidity holds.
Kilopascals vapour_pressure(Celsius air, RelativeHumidity humidity);

// Of air at this temperature that holds this much vapour. Above 100 where it holds more
// than saturates it.
RelativeHumidity relative_humidity(Kilopascals vapour, Celsius air);

// How much more vapour the air could take up; never negative. By FAO-56's saturation
// pressure (eqs. 11 and 54), since handbooks reckon their deficits so: it is within 0.14
// % of what saturation_pressure() would give from 0 to 50 degrees C.
Kilopascals vapour_pressure_deficit(Celsius air, RelativeHumidity humidity);

// The temperature at which this vapour pressure saturates air over water: the exact
// inverse of saturation_pressure(). Nothing without any vapour: dry air has no dew point.
std::optional<Celsius> dew_point(Kilopascals vapour);

// The temperature at which frost begins to form: the exact inverse of
// saturation_pressure_over_ice(), above the dew point. Nothing without any vapour, and
// where the air would be saturated at or above 0 degrees C, so that dew forms first.
std::optional<Celsius> frost_point(Kilopascals vapour);

// What a ventilated wet-bulb thermometer shows. Its wick is ice once the bulb is below 0
// degrees C. Never above the air's temperature, also where air below freezing is so moist
// that ice would grow on the bulb and warm it. In a narrow band of humidities the wick
// may stay above 0 as water or, once frozen, cool to about 0.7 degrees below it:
// here it is water as long as it can be. Source: the psychrometer equation with the
// constants of WMO-No. 8, part I, ch. 4, annex 4.B (from memory): 6.53e-4 (1 + 9.44e-4 t)
// per kelvin over water, 5.75e-4 over ice.
Celsius wet_bulb(Celsius air, RelativeHumidity humidity, Hectopascals pressure);

// The mass of the vapour.
// Source: the ideal gas with water's gas constant 461.5 J/(kg K): 216.68 e[hPa]/T[K].
GramsPerCubicMetre absolute_humidity(Celsius air, RelativeHumidity humidity);

}  // namespace rimeward
