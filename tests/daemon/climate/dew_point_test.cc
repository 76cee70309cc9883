#include "daemon/climate/dew_point.h"

#include <array>

#include <doctest/doctest.h>

namespace rimeward {

// FAO-56 (Allen et al. 1998), annex 2, table 2.3: saturation pressure 2.338 kPa at 20
// degrees C, 1.228 at 10, 0.611 at 0: air of 20 degrees with 52.52 % has its dew point at
// 10, with 26.13 % at 0. Another Magnus pair of constants differs by less than 0.05.
TEST_CASE("dew points agree with the saturation pressures of FAO-56") {
  CHECK(dew_point({20.0}, {52.52}).degrees == doctest::Approx(10.0).epsilon(0.005));
  CHECK(dew_point({20.0}, {26.13}).degrees + 20.0 ==
        doctest::Approx(20.0).epsilon(0.0025));
}

TEST_CASE("saturated air is at its dew point") {
  for (const double air : std::array{-30.0, -5.5, 0.0, 12.3, 41.0}) {
    CAPTURE(air);
    CHECK(dew_point({air}, {100.0}).degrees == doctest::Approx(air));
  }
}

TEST_CASE("humidity beyond 1 to 100 % counts as the nearer end") {
  CHECK(dew_point({8.0}, {104.0}) == dew_point({8.0}, {100.0}));
  CHECK(dew_point({8.0}, {0.0}) == dew_point({8.0}, {1.0}));
}

}  // namespace rimeward
