#include "daemon/climate/radiation.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace rimeward {
namespace {

constexpr double kSolarConstant = 0.0820;  // MJ per square metre and minute
constexpr double kMinutesInDay = 24.0 * 60.0;

// Eq. 22.
Radians latitude_of(Position position) {
  return {position.latitude * std::numbers::pi / 180.0};
}

// How far round its orbit the earth is, from the new year.
double orbit_angle(DayOfYear day) {
  return 2.0 * std::numbers::pi / 365.0 * day.number;
}

}  // namespace

DayOfYear day_of_year(std::chrono::year_month_day date) {
  const std::chrono::sys_days new_year = date.year() / std::chrono::January / 1;
  return {static_cast<int>((std::chrono::sys_days{date} - new_year).count()) + 1};
}

double inverse_relative_distance(DayOfYear day) {
  return 1.0 + 0.033 * std::cos(orbit_angle(day));
}

Radians solar_declination(DayOfYear day) {
  return {0.409 * std::sin(orbit_angle(day) - 1.39)};
}

Radians sunset_hour_angle(DayOfYear day, Position position) {
  const double cosine =
      -std::tan(latitude_of(position).radians) * std::tan(solar_declination(day).radians);
  return {std::acos(std::clamp(cosine, -1.0, 1.0))};
}

std::chrono::duration<double> daylight_hours(DayOfYear day, Position position) {
  const double share = sunset_hour_angle(day, position).radians / std::numbers::pi;
  return share * std::chrono::hours{24};
}

MegajoulesPerSquareMetre extraterrestrial_radiation(DayOfYear day, Position position) {
  const double latitude = latitude_of(position).radians;
  const double declination = solar_declination(day).radians;
  const double sunset = sunset_hour_angle(day, position).radians;
  const double lift = sunset * std::sin(latitude) * std::sin(declination) +
                      std::cos(latitude) * std::cos(declination) * std::sin(sunset);
  return {kMinutesInDay / std::numbers::pi * kSolarConstant *
          inverse_relative_distance(day) * lift};
}

MegajoulesPerSquareMetre clear_sky_radiation(MegajoulesPerSquareMetre extraterrestrial,
                                             Metres height) {
  return {(0.75 + 2e-5 * height.metres) * extraterrestrial.megajoules};
}

}  // namespace rimeward
