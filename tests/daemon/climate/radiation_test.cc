#include "daemon/climate/radiation.h"

#include <array>
#include <cmath>
#include <numbers>

#include <doctest/doctest.h>

#include "daemon/climate/sun.h"
#include "tests/daemon/climate/outlook_replay.h"
#include "tests/support/shared_folder.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;
using std::chrono::April;
using std::chrono::December;
using std::chrono::January;
using std::chrono::July;
using std::chrono::May;
using std::chrono::October;
using std::chrono::September;

void check_near(double computed, double published, double tolerance) {
  CAPTURE(computed);
  CAPTURE(published);
  CHECK(std::abs(computed - published) <= tolerance);
}

double radiation(DayOfYear day, double latitude) {
  return extraterrestrial_radiation(day, {latitude, 0.0}).megajoules;
}

double hours_of_light(DayOfYear day, double latitude) {
  return daylight_hours(day, {latitude, 0.0}).count() / 3600.0;
}

// Latitude, day, daylight in hours and radiation in MJ/m2: computed from eqs. 21 to 34 of
// FAO-56 by other hands, for the 15th of each month; its own tables 2.6 and 2.7 round to
// the same.
constexpr std::array<std::array<double, 4>, 16> kMonths{{
    {0, 74, 12.0, 37.9},
    {0, 166, 12.0, 33.4},
    {0, 349, 12.0, 35.6},
    {50, 15, 8.3, 8.9},
    {50, 105, 13.5, 31.5},
    {50, 166, 16.1, 41.7},
    {50, 227, 14.3, 34.3},
    {50, 288, 10.4, 16.8},
    {50, 349, 7.9, 7.5},
    {70, 15, 0.0, 0.0},
    {70, 46, 6.7, 2.6},
    {70, 135, 21.3, 35.2},
    {70, 166, 24.0, 42.5},
    {70, 196, 24.0, 39.3},
    {70, 319, 2.3, 0.1},
    {70, 349, 0.0, 0.0},
}};

// Half the last digit of each, and of rounding on both sides.
void check_month(double latitude, int day, double hours, double megajoules) {
  CAPTURE(latitude);
  CAPTURE(day);
  check_near(hours_of_light({day}, latitude), hours, 0.051);
  check_near(radiation({day}, latitude), megajoules, 0.051);
}

}  // namespace

// FAO-56, table 2.5.
TEST_CASE("days of the year are numbered as in FAO-56, leap years too") {
  CHECK(day_of_year(2023y / January / 1).number == 1);
  CHECK(day_of_year(2023y / September / 3).number == 246);
  CHECK(day_of_year(2023y / December / 31).number == 365);
  CHECK(day_of_year(2024y / September / 3).number == 247);
  CHECK(day_of_year(2024y / December / 31).number == 366);
}

// FAO-56, examples 8 and 9: 20 degrees south on 3 September. Tolerances here and in the
// next tests: the rounding of the printed figure.
TEST_CASE("the example of 20 degrees south comes out at every step") {
  const Position south20{-20.0, 0.0};
  const DayOfYear day = day_of_year(2023y / September / 3);
  check_near(inverse_relative_distance(day), 0.985, 0.0006);
  check_near(solar_declination(day).radians, 0.120, 0.0006);
  check_near(sunset_hour_angle(day, south20).radians, 1.527, 0.0006);
  check_near(radiation(day, -20.0), 32.2, 0.06);
  check_near(hours_of_light(day, -20.0), 11.7, 0.06);
}

// FAO-56, examples 10 (Rio de Janeiro), 17 (Bangkok), 18 (Uccle), 19 (N'Diaye) and 20
// (Lyon).
TEST_CASE("radiation and daylight of the other worked examples come out") {
  const DayOfYear may = day_of_year(2023y / May / 15);
  check_near(radiation(may, -22.9), 25.1, 0.06);
  check_near(hours_of_light(may, -22.9), 10.9, 0.06);
  const DayOfYear april = day_of_year(2023y / April / 15);
  check_near(radiation(april, 13.73), 38.06, 0.02);
  check_near(hours_of_light(april, 13.73), 12.31, 0.011);
  const DayOfYear july = day_of_year(2023y / July / 6);
  check_near(radiation(july, 50.8), 41.09, 0.011);
  check_near(hours_of_light(july, 50.8), 16.1, 0.06);
  check_near(radiation(day_of_year(2023y / July / 15), 45.72), 40.55, 0.02);
  const DayOfYear october = day_of_year(2023y / October / 1);
  check_near(inverse_relative_distance(october), 1.0001, 6e-5);
  check_near(solar_declination(october).radians, -0.0753, 6e-5);
}

// FAO-56, examples 17 and 18, from memory: 28.54 MJ at 2 m, 30.90 at 100 m.
TEST_CASE("the cloudless radiation of the worked examples comes out") {
  check_near(clear_sky_radiation({38.06}, {2.0}).megajoules, 28.54, 0.011);
  check_near(clear_sky_radiation({41.09}, {100.0}).megajoules, 30.90, 0.011);
}

TEST_CASE("radiation and daylight through the year are those of the equations") {
  for (const auto& [latitude, day, hours, megajoules] : kMonths)
    check_month(latitude, static_cast<int>(day), hours, megajoules);
}

TEST_CASE("radiation and daylight of every month and latitude are the equations'") {
  const auto shared = shared_folder();
  if (!shared) {
    MESSAGE("skipped: no folder of check values, see tests/support/shared_folder.h");
    return;
  }
  const auto rows = read_table(*shared / "reference" / "02_daylength_ra_fao56_eq.csv");
  CHECK(rows.size() == 204);
  for (const auto& row : rows) {
    // Its lines end in CR LF: the last column's name has the CR.
    const std::string& megajoules = row.lower_bound("Ra_mj_m2_d_eq21")->second;
    check_month(number_from(row.at("lat_n_deg")),
                static_cast<int>(number_from(row.at("J_15th"))),
                number_from(row.at("N_h_eq34")), number_from(megajoules));
  }
}

TEST_CASE("the polar night has no radiation, the polar day light for 24 hours") {
  for (const double latitude : {75.0, 89.9, 90.0}) {
    CAPTURE(latitude);
    const Position north{latitude, 0.0};
    const DayOfYear winter = day_of_year(2024y / December / 21);
    CHECK(sunset_hour_angle(winter, north).radians == 0.0);
    CHECK(daylight_hours(winter, north) == std::chrono::hours{0});
    CHECK(extraterrestrial_radiation(winter, north).megajoules == 0.0);
    const Position south{-latitude, 0.0};
    CHECK(sunset_hour_angle(winter, south).radians == doctest::Approx(std::numbers::pi));
    CHECK(daylight_hours(winter, south) == std::chrono::hours{24});
    // More than the equator ever has.
    CHECK(extraterrestrial_radiation(winter, south).megajoules > 40.0);
  }
}

TEST_CASE("radiation is never negative and daylight never beyond a day") {
  for (int day = 1; day <= 366; ++day) {
    for (double latitude = -90.0; latitude <= 90.0; latitude += 1.5) {
      CAPTURE(day);
      CAPTURE(latitude);
      CHECK(radiation({day}, latitude) >= 0.0);
      CHECK(hours_of_light({day}, latitude) >= 0.0);
      CHECK(hours_of_light({day}, latitude) <= 24.0);
    }
  }
}

// Refraction and the disc make the sun's own day longer than the geometric one by 10 to
// 12 minutes at 40 degrees north, 13 to 16 at 50, 20 to 23 at 60 (computed); FAO's simple
// declination, a degree and more off in October, adds or takes up to 11 more.
TEST_CASE("daylight for radiation is a little shorter than that of the true sun") {
  for (const double latitude : {40.0, 50.0, 60.0}) {
    for (int month = 0; month < 12; ++month) {
      const auto date =
          std::chrono::sys_days{2024y / January / 15} + std::chrono::days{30 * month};
      CAPTURE(latitude);
      CAPTURE(month);
      const SunDay sun =
          sun_day(date.time_since_epoch().count(), {latitude, 0.0}, SunHeight::kHorizon);
      const auto longer =
          time_above(sun) - daylight_hours(day_of_year(date), {latitude, 0.0});
      CHECK(longer > std::chrono::minutes{9});
      CHECK(longer < std::chrono::minutes{34});
    }
  }
}

}  // namespace rimeward
