#include "daemon/climate/sun.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace rimeward {
namespace {

constexpr double kDegree = std::numbers::pi / 180.0;
constexpr double kZenith = 90.833;  // of the sun's centre, at rise and set

struct SunPlace {
  double equation_of_time;  // minutes that the sundial is ahead of the clock
  double half_day_cosine;   // of the hour angle at rise and set; beyond 1: neither
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

SunPlace sun_place(double day, Position position) {
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

  const double latitude = position.latitude * kDegree;
  return {.equation_of_time = 4 * equation / kDegree,
          .half_day_cosine =
              std::cos(kZenith * kDegree) / (std::cos(latitude) * std::cos(declination)) -
              std::tan(latitude) * std::tan(declination)};
}

// Hours of the UTC date.
double noon_hour(const SunPlace& sun, Position position) {
  return (720.0 - 4.0 * position.longitude - sun.equation_of_time) / 60.0;
}

double half_day_hours(const SunPlace& sun) {
  return std::acos(std::clamp(sun.half_day_cosine, -1.0, 1.0)) / kDegree * 4.0 / 60.0;
}

SunTime at_hour(double day, double hour) {
  return SunTime{std::chrono::duration<double>{(24.0 * day + hour) * 3600.0}};
}

}  // namespace

std::optional<SunEvents> sun_events(std::int64_t solar_day, Position position) {
  const auto day = static_cast<double>(solar_day);
  const SunPlace at_noon = sun_place(day + 0.5 - position.longitude / 360.0, position);
  const double cosine = at_noon.half_day_cosine;
  if (std::isnan(cosine) || std::abs(cosine) > 1.0) return std::nullopt;

  const double noon = noon_hour(at_noon, position);
  double rise = noon - half_day_hours(at_noon);
  double set = noon + half_day_hours(at_noon);
  for (int pass = 0; pass < 2; ++pass) {
    const SunPlace at_rise = sun_place(day + rise / 24.0, position);
    rise = noon_hour(at_rise, position) - half_day_hours(at_rise);
    const SunPlace at_set = sun_place(day + set / 24.0, position);
    set = noon_hour(at_set, position) + half_day_hours(at_set);
  }
  return SunEvents{at_hour(day, rise), at_hour(day, noon), at_hour(day, set)};
}

std::int64_t solar_day(Instant instant, Position position) {
  const double hours = static_cast<double>(instant.time_since_epoch().count()) / 3600.0;
  return static_cast<std::int64_t>(
      std::floor((hours + position.longitude / 15.0) / 24.0));
}

}  // namespace rimeward
