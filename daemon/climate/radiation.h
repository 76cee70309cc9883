// The sun's radiation of a day on level ground, by date and latitude. Pure: thread-safe.
//
// Source: Allen, Pereira, Raes & Smith (1998), FAO Irrigation and Drainage Paper 56, ch.
// 3; the equations' numbers are those of that paper. Its sun is simpler than that of
// daemon/climate/sun.h and sets at the geometric horizon, without refraction and disc:
// its daylight is 12 to 23 minutes shorter at 50 degrees north, 16 to 33 at 60. Use sun.h
// for times and for the day's length, this file for what is reckoned with radiation.

#pragma once

#include <chrono>
#include <compare>

#include "daemon/base/garden.h"
#include "daemon/base/quantities.h"

namespace rimeward {

struct Radians {
  double radians;
  constexpr auto operator<=>(const Radians&) const = default;
};

// A height above the sea.
struct Metres {
  double metres;
  constexpr auto operator<=>(const Metres&) const = default;
};

// 1 on 1 January to 365 or 366 on 31 December (table 2.5).
struct DayOfYear {
  int number;
  constexpr auto operator<=>(const DayOfYear&) const = default;
};

// REQUIRES: `date` is a date of the calendar.
DayOfYear day_of_year(std::chrono::year_month_day date);

// Of the earth from the sun, over the mean one, to the power of -2 (eq. 23).
double inverse_relative_distance(DayOfYear day);

// Of the sun, north positive (eq. 24).
Radians solar_declination(DayOfYear day);

// By how much the earth turns from noon to sunset (eq. 25): 0 in the polar night, pi in
// the polar day.
Radians sunset_hour_angle(DayOfYear day, Position position);

// From sunrise to sunset (eq. 34): 0 h in the polar night, 24 h in the polar day.
std::chrono::duration<double> daylight_hours(DayOfYear day, Position position);

// What would reach the ground without an atmosphere (eq. 21); 0 in the polar night.
MegajoulesPerSquareMetre extraterrestrial_radiation(DayOfYear day, Position position);

// What reaches the ground under a cloudless sky (eq. 37; eq. 36 at sea level). A high
// estimate for humid or dusty air.
MegajoulesPerSquareMetre clear_sky_radiation(MegajoulesPerSquareMetre extraterrestrial,
                                             Metres height);

}  // namespace rimeward
