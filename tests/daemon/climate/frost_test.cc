#include "daemon/climate/frost.h"

#include <array>
#include <cmath>
#include <vector>

#include <doctest/doctest.h>

namespace rimeward {
namespace {

using namespace std::chrono_literals;
using std::chrono::days;
using std::chrono::sys_days;

// Last frosts of twenty springs, in days since 31 December: this project's own sample.
constexpr std::array<days, 20> kLastFrosts{
    days{112}, days{118}, days{105}, days{121}, days{99},  days{127}, days{110},
    days{115}, days{124}, days{108}, days{119}, days{103}, days{130}, days{113},
    days{117}, days{109}, days{122}, days{101}, days{116}, days{111}};

double day_with(double odds, int years_without = 0) {
  return day_by_odds({kLastFrosts, years_without}, {odds}).value().count();
}

}  // namespace

TEST_CASE("exactly 0.0 degrees C is no frost") {
  CHECK(is_frost(-1));
  CHECK_FALSE(is_frost(0));
  CHECK(frost_hours(-1) == 1);
  CHECK(frost_hours(0) == 0);
  CHECK(frost_hours(3'000) == 0);
}

TEST_CASE("a season runs from midwinter to midwinter on either side of the equator") {
  CHECK(season_of(2026y, false) == Season{2026y / 1 / 1, 2026y / 7 / 1, 2027y / 1 / 1});
  CHECK(season_of(2026y, true) == Season{2026y / 7 / 1, 2027y / 1 / 1, 2027y / 7 / 1});
  CHECK(season_year(2026y / 6 / 30, true) == 2025y);
  CHECK(season_year(2026y / 7 / 1, true) == 2026y);
  CHECK(season_year(2026y / 1 / 1, false) == 2026y);
  CHECK(is_southern(-0.1));
  CHECK_FALSE(is_southern(0));
}

TEST_CASE("the last frost of spring and the first of autumn bound the northern summer") {
  const std::vector<NightLow> nights{{2026y / 11 / 2, -500}, {2026y / 5 / 7, -100},
                                     {2026y / 5 / 12, 0},    {2025y / 12 / 31, -900},
                                     {2026y / 10 / 16, -1},  {2026y / 4 / 3, -2'000},
                                     {2026y / 7 / 1, 4'000}, {2027y / 1 / 1, -5'000}};
  const FrostDates dates = frost_dates(nights, season_of(2026y, false));
  CHECK(dates.last_of_spring == sys_days{2026y / 5 / 7});
  CHECK(dates.first_of_autumn == sys_days{2026y / 10 / 16});
}

TEST_CASE("south of the equator the frosts bound the turn of the year") {
  const std::vector<NightLow> nights{{2026y / 7 / 20, -3'000}, {2026y / 10 / 5, -200},
                                     {2027y / 4 / 28, -700},   {2027y / 5 / 30, -900},
                                     {2026y / 5 / 3, -400},    {2027y / 7 / 1, -100}};
  const FrostDates dates = frost_dates(nights, season_of(2026y, true));
  CHECK(dates.last_of_spring == sys_days{2026y / 10 / 5});
  CHECK(dates.first_of_autumn == sys_days{2027y / 4 / 28});
}

TEST_CASE("a frost of 29 February is a frost of its season") {
  const std::vector<NightLow> nights{{2028y / 2 / 29, -300}};
  const FrostDates dates = frost_dates(nights, season_of(2028y, false));
  CHECK(dates.last_of_spring == sys_days{2028y / 2 / 29});
  CHECK_FALSE(dates.first_of_autumn);
}

// The normal dates of Thom & Shaw (1958) for the sample above: mean 114, standard
// deviation 8.5224; reckoned with printed quantiles of the normal distribution.
TEST_CASE("the day by odds is that of a normal spread of last frosts") {
  CHECK(std::abs(day_with(0.1) - 124.922) < 0.001);
  CHECK(std::abs(day_with(0.3) - 118.469) < 0.001);
  CHECK(std::abs(day_with(0.5) - 114.0) < 0.001);
  CHECK(std::abs(day_with(0.7) - 109.531) < 0.001);
  CHECK(std::abs(day_with(0.9) - 103.078) < 0.001);
}

// Thom & Shaw's mixed spread: four years of five with a frost, so that a frost later than
// the day comes in an eighth of those.
TEST_CASE("years without a frost bring the day forward") {
  CHECK(std::abs(day_with(0.1, 5) - 123.804) < 0.001);
  CHECK(day_with(0.1, 5) < day_with(0.1));
}

TEST_CASE("there is no day by odds without frosts enough to tell it") {
  CHECK_FALSE(day_by_odds({{}, 20}, {0.1}));
  CHECK_FALSE(day_by_odds({std::span(kLastFrosts).first(1), 0}, {0.1}));
  CHECK_FALSE(day_by_odds({std::array{days{100}, days{100}}, 0}, {0.1}));
  // One year in eleven has a frost at all.
  CHECK_FALSE(day_by_odds({std::span(kLastFrosts).first(2), 20}, {0.1}));
}

// Weibull's plotting position, m / (n + 1).
TEST_CASE("the latest of nine last frosts is passed one year in ten") {
  CHECK(odds_of_later(1, 9).value == doctest::Approx(0.1));
  CHECK(odds_of_later(9, 9).value == doctest::Approx(0.9));
}

}  // namespace rimeward
