// Sunrise, solar noon and sunset of a day at a position. Pure: thread-safe.
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

// The day, by the sun at the position's longitude, that an instant belongs to: from
// about midnight to midnight of sundial time.
std::int64_t solar_day(Instant instant, Position position);

}  // namespace rimeward
