// Sunrise, solar noon, sunset, twilight and the length of a day at a position. Pure:
// thread-safe.
//
// The low-accuracy sun of Meeus, Astronomical Algorithms (2nd ed. 1998, ch. 25), in the
// form of the NOAA solar calculator: the sun's centre 90.833 degrees from the zenith (34
// minutes of arc of refraction, 16 of the disc). Evaluated at local noon, then twice
// more at the event itself, without which it is 2 to 3 minutes off at 60 degrees north.
// Against the tables of the US Naval Observatory: within 0.6 minutes below 60 degrees,
// a minute at 80.

#pragma once

#include <chrono>
#include <cstdint>
#include <optional>

#include "daemon/base/garden.h"
#include "sensors/units.h"

namespace rimeward {

// A moment of the sun's, to a fraction of a second.
using SunTime = std::chrono::sys_time<std::chrono::duration<double>>;

// As stored and shown; what was measured by then was measured by the moment itself.
inline Instant whole_second(SunTime at) {
  return std::chrono::floor<std::chrono::seconds>(at);
}

struct SunEvents {
  SunTime sunrise;
  SunTime noon;
  SunTime sunset;
};

// The events of the solar day that has its noon on the given UTC date; sunrise and
// sunset may lie on the dates beside it. `solar_day` counts days since 1970-01-01.
// Nothing when the sun stays up or down all that day.
std::optional<SunEvents> sun_events(std::int64_t solar_day, Position position);

// Heights of the sun's centre at which a part of the day begins and ends.
enum class SunHeight {
  kHorizon,       // sunrise and sunset: -0.833 degrees
  kCivil,         // -6 degrees: above it, light enough to work by
  kNautical,      // -12 degrees
  kAstronomical,  // -18 degrees: below it, full night
};

// A solar day, from one midnight of the sun's to the next, divided by one of its heights.
// `rise` is absent where the sun does not come up to that height between midnight and
// noon, `set` where it does not go below it between noon and midnight. At the turn of the
// midnight sun a day has one without the other: it begins or ends in light.
struct SunDay {
  std::optional<SunTime> rise;
  SunTime noon;
  std::optional<SunTime> set;
  bool above_at_noon;
};

// Of the same day as sun_events(). For the horizon, rise and set are those of
// sun_events() to a thousandth of a second below 60 degrees of latitude. Nearer the
// poles, where that one's two passes may not have settled and it has an event for a day
// without, these hold: they are searched for until they no longer move. Within 10 km of a
// pole the sun may also come up in an afternoon or go down in a morning, which is not
// told as a rise or set.
SunDay sun_day(std::int64_t solar_day, Position position, SunHeight height);

// The midnight sun, when asked of the horizon; of a twilight: it lasts all night.
constexpr bool above_all_day(const SunDay& day) {
  return day.above_at_noon && !day.rise && !day.set;
}

// The polar night, when asked of the horizon.
constexpr bool below_all_day(const SunDay& day) {
  return !day.above_at_noon;
}

// How long the sun is above that height: 0 to 24 h. Of the horizon: the day's length.
std::chrono::duration<double> time_above(const SunDay& day);

// The day, by the sun at the position's longitude, that an instant belongs to: from
// about midnight to midnight of sundial time.
std::int64_t solar_day(Instant instant, Position position);

}  // namespace rimeward
