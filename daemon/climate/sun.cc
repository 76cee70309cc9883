#include "daemon/climate/sun.h"

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <numbers>

namespace rimeward {
namespace {

constexpr double kDegree = std::numbers::pi / 180.0;
constexpr double kZenith = 90.833;  // of the sun's centre, at rise and set
constexpr std::chrono::duration<double, std::chrono::hours::period> kHalfDay{12.0};

struct SunPlace {
  double equation_of_time;  // minutes that the sundial is ahead of the clock
  double declination;       // radians
};

double wrapped(double degrees) {
  const double rest = std::fmod(degrees, 360.0);
  return rest < 0.0 ? rest + 360.0 : rest;
}

// Of the ecliptic to the equator, in degrees, with the nutation's main term.
double obliquity(double century) {
  const double seconds =
      21.448 - century * (46.815 + century * (0.00059 - century * 0.001813));
  const double node = 125.04 - 1934.136 * century;
  return 23.0 + (26.0 + seconds / 60.0) / 60.0 + 0.00256 * std::cos(node * kDegree);
}

// The sun's apparent longitude less its mean one, in degrees.
double longitude_offset(double century, double anomaly) {
  const double centre =
      std::sin(anomaly) * (1.914602 - century * (0.004817 + 0.000014 * century)) +
      std::sin(2 * anomaly) * (0.019993 - 0.000101 * century) +
      std::sin(3 * anomaly) * 0.000289;
  const double node = 125.04 - 1934.136 * century;
  return centre - 0.00569 - 0.00478 * std::sin(node * kDegree);
}

SunPlace sun_place(double day) {
  const double century = (2440587.5 + day - 2451545.0) / 36525.0;
  const double mean_longitude =
      wrapped(280.46646 + century * (36000.76983 + 0.0003032 * century));
  const double anomaly =
      (357.52911 + century * (35999.05029 - 0.0001537 * century)) * kDegree;
  const double eccentricity =
      0.016708634 - century * (0.000042037 + 0.0000001267 * century);
  const double tilt = obliquity(century) * kDegree;
  const double longitude =
      (mean_longitude + longitude_offset(century, anomaly)) * kDegree;
  const double declination = std::asin(std::sin(tilt) * std::sin(longitude));

  const double half_tilt = std::tan(tilt / 2);
  const double y = half_tilt * half_tilt;
  const double mean = mean_longitude * kDegree;
  const double equation = y * std::sin(2 * mean) - 2 * eccentricity * std::sin(anomaly) +
                          4 * eccentricity * y * std::sin(anomaly) * std::cos(2 * mean) -
                          0.5 * y * y * std::sin(4 * mean) -
                          1.25 * eccentricity * eccentricity * std::sin(2 * anomaly);

  return {.equation_of_time = 4 * equation / kDegree, .declination = declination};
}

// Of the hour angle at rise and set; beyond 1: neither.
double half_day_cosine(const SunPlace& sun, Position position) {
  const double latitude = position.latitude * kDegree;
  return std::cos(kZenith * kDegree) / (std::cos(latitude) * std::cos(sun.declination)) -
         std::tan(latitude) * std::tan(sun.declination);
}

// Hours of the UTC date.
double noon_hour(const SunPlace& sun, Position position) {
  return (720.0 - 4.0 * position.longitude - sun.equation_of_time) / 60.0;
}

double half_day_hours(const SunPlace& sun, Position position) {
  const double cosine = half_day_cosine(sun, position);
  return std::acos(std::clamp(cosine, -1.0, 1.0)) / kDegree * 4.0 / 60.0;
}

SunTime at_hour(double day, double hour) {
  return SunTime{std::chrono::duration<double>{(24.0 * day + hour) * 3600.0}};
}

double zenith_of(SunHeight height) {
  switch (height) {
    case SunHeight::kHorizon:
      return kZenith;
    case SunHeight::kCivil:
      return 96.0;
    case SunHeight::kNautical:
      return 102.0;
    case SunHeight::kAstronomical:
      return 108.0;
  }
  std::abort();
}

// Whether the sun stands closer to the zenith than `zenith`, `hour` hours into the day.
bool is_above(double day, double hour, Position position, double zenith) {
  const SunPlace sun = sun_place(day + hour / 24.0);
  const double angle = (hour - noon_hour(sun, position)) * 15.0 * kDegree;
  const double latitude = position.latitude * kDegree;
  return std::sin(latitude) * std::sin(sun.declination) +
             std::cos(latitude) * std::cos(sun.declination) * std::cos(angle) >=
         std::cos(zenith * kDegree);
}

// The hour, between one of the sun's midnights and its noon, at which it passes `zenith`.
// Nothing when it does not.
std::optional<double> passing(double day, double midnight, double noon, Position position,
                              double zenith) {
  double below = midnight;
  double above = noon;
  if (is_above(day, below, position, zenith)) return std::nullopt;
  if (!is_above(day, above, position, zenith)) return std::nullopt;
  // Halved rather than iterated: near the turn of the midnight sun the step from one
  // guess to the next does not settle. 30 halvings of half a day leave 40 microseconds.
  for (int halving = 0; halving < 30; ++halving) {
    const double middle = (below + above) / 2;
    if (is_above(day, middle, position, zenith)) {
      above = middle;
    } else {
      below = middle;
    }
  }
  return above;
}

}  // namespace

std::optional<SunEvents> sun_events(std::int64_t solar_day, Position position) {
  const auto day = static_cast<double>(solar_day);
  const SunPlace at_noon = sun_place(day + 0.5 - position.longitude / 360.0);
  const double cosine = half_day_cosine(at_noon, position);
  if (std::isnan(cosine) || std::abs(cosine) > 1.0) return std::nullopt;

  const double noon = noon_hour(at_noon, position);
  double rise = noon - half_day_hours(at_noon, position);
  double set = noon + half_day_hours(at_noon, position);
  for (int pass = 0; pass < 2; ++pass) {
    const SunPlace at_rise = sun_place(day + rise / 24.0);
    rise = noon_hour(at_rise, position) - half_day_hours(at_rise, position);
    const SunPlace at_set = sun_place(day + set / 24.0);
    set = noon_hour(at_set, position) + half_day_hours(at_set, position);
  }
  return SunEvents{at_hour(day, rise), at_hour(day, noon), at_hour(day, set)};
}

SunDay sun_day(std::int64_t solar_day, Position position, SunHeight height) {
  const auto day = static_cast<double>(solar_day);
  const double zenith = zenith_of(height);
  const double noon =
      noon_hour(sun_place(day + 0.5 - position.longitude / 360.0), position);
  const auto event = [&](double midnight) -> std::optional<SunTime> {
    const auto hour = passing(day, midnight, noon, position, zenith);
    if (!hour) return std::nullopt;
    return at_hour(day, *hour);
  };
  return {.rise = event(noon - kHalfDay.count()),
          .noon = at_hour(day, noon),
          .set = event(noon + kHalfDay.count()),
          .above_at_noon = is_above(day, noon, position, zenith)};
}

std::chrono::duration<double> time_above(const SunDay& day) {
  if (below_all_day(day)) return std::chrono::duration<double>{0.0};
  const SunTime from = day.rise.value_or(day.noon - kHalfDay);
  const SunTime until = day.set.value_or(day.noon + kHalfDay);
  return until - from;
}

std::int64_t solar_day(Instant instant, Position position) {
  const double hours = static_cast<double>(instant.time_since_epoch().count()) / 3600.0;
  return static_cast<std::int64_t>(
      std::floor((hours + position.longitude / 15.0) / 24.0));
}

}  // namespace rimeward
