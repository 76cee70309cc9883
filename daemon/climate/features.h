// The night that is forecast, and what can be said of it at one of its moments from the
// readings so far. Pure: thread-safe.
//
// The features, in order (all clipped, so that one odd reading cannot run away with the
// forecast; T0 is the newest air temperature, Td0 the newest dew point):
//   one      1
//   T0       T0 / 10
//   TdA      (Td0 - mean dew point of 24 h) / 10: is the air getting moister or drier
//   floor    how near the dew point is, within 8 K: below it the air hardly cools
//   lminrel  (T0 - low of the night before) / 10
//   ewmin    (T0 - running mean of the lows) / 10
//   sqH      sqrt(hours until sunrise) - 3.3
//   cool     (temperature at sunset - T0) / 5, after dark only
//   dd       (T0 - Td0) / 10, after dark only
// The method is this project's own, measured on open hourly records.

#pragma once

#include <array>
#include <cstdint>
#include <optional>

#include "daemon/climate/moment.h"
#include "daemon/climate/recents.h"
#include "daemon/climate/sun.h"
#include "sensors/units.h"

namespace rimeward {

struct Night {
  std::int64_t solar_day;  // whose evening begins the night
  SunTime noon;
  SunTime sunset;
  SunTime sunrise;  // of the morning that ends it
  bool operator==(const Night&) const = default;
};

// Nothing when the sun does not set that day or not rise the next.
std::optional<Night> night_of(std::int64_t solar_day, Position position);

// The night under way, until its end; by day the one to come. Nothing where the sun stays
// up or down.
std::optional<Night> night_at(Instant at, Position position);

// The night's low is looked for from sunset until then.
inline constexpr std::chrono::hours kAfterSunrise{2};
inline SunTime end_of(const Night& night) {
  return night.sunrise + kAfterSunrise;
}

SunTime time_of(Moment moment, const Night& night);

// Every reading that is at most this much after a moment counts as known at it.
inline constexpr std::chrono::duration<double> kSlack{0.0036};

struct PastLows {
  std::optional<Celsius> last;   // of the night before
  std::optional<Celsius> usual;  // mean of the lows so far, the newest weighing most
};

// What is known at a moment.
struct Known {
  FeatureArray features{};
  Celsius air{};
  std::optional<Celsius> dew_point;
  std::optional<Celsius> running_low;  // since sunset
};

// Looks at the readings up to time_of(moment, night). A feature that is not known takes
// its value in `fill`. Nothing when the newest air temperature is older than 1.3 hours.
// REQUIRES: the moment lies before sunrise.
std::optional<Known> known_at(Moment moment, const Night& night, const PastLows& lows,
                              const Recents& recents, const FeatureArray& fill);

// What the readings say of a night that is over.
struct NightRecord {
  std::size_t readings;
  double longest_gap_hours;       // from sunset to the end, both edges counted
  std::optional<TimedValue> low;  // when it was first read; nothing without readings
};
NightRecord record_of(const Night& night, const Series& air);

}  // namespace rimeward
