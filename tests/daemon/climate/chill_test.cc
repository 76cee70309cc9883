#include "daemon/climate/chill.h"

#include <array>
#include <span>

#include <doctest/doctest.h>

namespace rimeward {
namespace {

// This project's own days, of hourly means; the figures follow from the bands that
// Richardson, Seeley & Walker (1974) print and from the count of 0 to 7.2 degrees C.
constexpr std::array<double, 24> kRamp{-2, 0,  1,  2,  3,  5,  7,  7.2, 8,  9,  10, 11,
                                       12, 13, 14, 15, 16, 17, 18, 19,  20, 12, 8,  4};
constexpr std::array<double, 24> kWarmDay{3,  3,  3,  3,  4,  6, 9, 12, 15, 17, 19, 20,
                                          20, 19, 17, 14, 11, 9, 7, 6,  5,  4,  4,  3};

template <class Worth>
auto summed(std::span<const double> hourly, Worth worth) {
  decltype(worth(Milli{})) sum = 0;
  for (const double air : hourly)
    sum += worth(to_milli(air));
  return sum;
}

}  // namespace

TEST_CASE("chill hours are those from 0 to 7.2 degrees C, or all up to there") {
  CHECK(summed(kRamp, chill_hours) == 8);
  CHECK(summed(kRamp, chill_hours_with_frost) == 9);
  CHECK(summed(kWarmDay, chill_hours) == 12);
  CHECK(summed(kWarmDay, chill_hours_with_frost) == 12);
  CHECK(24 * chill_hours(5'000) == 24);
}

TEST_CASE("both ends of the count of chill hours are counted") {
  CHECK(chill_hours(-1) == 0);
  CHECK(chill_hours(0) == 1);
  CHECK(chill_hours(7'200) == 1);
  CHECK(chill_hours(7'201) == 0);
  CHECK(chill_hours_with_frost(-20'000) == 1);
  CHECK(chill_hours_with_frost(7'201) == 0);
}

TEST_CASE("chill units of a day are those of the published bands") {
  CHECK(summed(kRamp, chill_units) == 7'000);
  CHECK(summed(kWarmDay, chill_units) == 10'000);
  CHECK(24 * chill_units(5'000) == 24'000);
}

// Both ends of each band as printed to a tenth of a degree C.
TEST_CASE("each printed band has its units from end to end") {
  struct Band {
    double from;
    double to;
    Milli units;
  };
  for (const Band& band : {Band{-30, 1.4, 0}, Band{1.5, 2.4, 500}, Band{2.5, 9.1, 1'000},
                           Band{9.2, 12.4, 500}, Band{12.5, 15.9, 0},
                           Band{16.0, 18.0, -500}, Band{18.1, 40, -1'000}}) {
    CAPTURE(band.from);
    CHECK(chill_units(to_milli(band.from)) == band.units);
    CHECK(chill_units(to_milli(band.to)) == band.units);
  }
}

TEST_CASE("the gaps between printed bands close at their middles") {
  CHECK(chill_units(2'449) == 500);
  CHECK(chill_units(2'450) == 1'000);
  CHECK(chill_units(18'049) == -500);
  CHECK(chill_units(18'050) == -1'000);
}

}  // namespace rimeward
