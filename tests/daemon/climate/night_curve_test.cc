#include "daemon/climate/night_curve.h"

#include <array>
#include <cmath>
#include <vector>

#include <doctest/doctest.h>

namespace rimeward {
namespace {

using std::chrono::hours;

constexpr Instant kSunset{hours{474'000}};

struct Case {
  double start;  // two hours after sunset
  double low;
  int night_hours;          // sunset to sunrise
  std::vector<double> air;  // hour by hour from two hours after sunset
};

// T(h) = T2 + b sqrt(h - 2), the square-root trend of FAO Frost Protection, vol. 1, ch.
// 5; worked for own inputs, to three decimals.
const std::array kCases{
    Case{1.0,
         -5.0,
         14,
         {1.0, -0.732, -1.449, -2.0, -2.464, -2.873, -3.243, -3.583, -3.899, -4.196,
          -4.477, -4.745, -5.0}},
    Case{4.0,
         -2.0,
         12,
         {4.0, 2.103, 1.317, 0.714, 0.205, -0.243, -0.648, -1.02, -1.367, -1.692, -2.0}},
    Case{8.0, 2.0, 10, {8.0, 5.879, 5.0, 4.326, 3.757, 3.257, 2.804, 2.388, 2.0}}};

NightCurve curve_of(const Case& night) {
  return {
      kSunset + hours{2}, {night.start}, kSunset + hours{night.night_hours}, {night.low}};
}

}  // namespace

TEST_CASE("the square-root trend gives the worked temperatures hour by hour") {
  for (const Case& night : kCases) {
    CAPTURE(night.start);
    const NightCurve curve = curve_of(night);
    SunTime at = curve.start;
    for (const double expected : night.air) {
      CAPTURE(expected);
      CHECK(std::abs(square_root_trend(curve, at).degrees - expected) < 0.001);
      at += hours{1};
    }
  }
}

TEST_CASE("half the fall is reached after a quarter of the time") {
  const NightCurve curve = curve_of(kCases[0]);
  CHECK(square_root_trend(curve, curve.start + hours{3}).degrees ==
        doctest::Approx(-2.0));
  CHECK(crossing(curve, {-2.0}) == curve.start + hours{3});
}

TEST_CASE("outside its night the curve stays at its ends") {
  const NightCurve curve = curve_of(kCases[1]);
  CHECK(square_root_trend(curve, curve.start - hours{5}) == curve.air);
  CHECK(square_root_trend(curve, curve.sunrise + hours{5}) == curve.low);
}

TEST_CASE("the crossing is where the curve has the threshold") {
  const NightCurve curve = curve_of(kCases[1]);
  for (const double threshold : std::array{3.9, 1.0, 0.0, -1.999, -2.0}) {
    CAPTURE(threshold);
    const auto at = crossing(curve, {threshold});
    REQUIRE(at);
    CHECK(square_root_trend(curve, *at).degrees == doctest::Approx(threshold));
  }
}

TEST_CASE(
    "there is no crossing below the low, and it is at once from below the threshold") {
  const NightCurve curve = curve_of(kCases[1]);
  CHECK_FALSE(crossing(curve, {-2.001}));
  CHECK(crossing(curve, {4.0}) == curve.start);
  const NightCurve warming{curve.start, {1.0}, curve.sunrise, {2.0}};
  CHECK_FALSE(crossing(warming, {0.5}));
  CHECK(crossing(warming, {1.5}) == curve.start);
}

}  // namespace rimeward
