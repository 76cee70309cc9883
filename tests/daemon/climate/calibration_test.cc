#include "daemon/climate/calibration.h"

#include <chrono>
#include <cmath>
#include <vector>

#include <doctest/doctest.h>

namespace rimeward {
namespace {

using namespace std::chrono_literals;
using Why = NotSteady::Why;

constexpr Instant kStart{std::chrono::sys_days{std::chrono::year{2026} / 4 / 12}};

std::vector<TimedValue> every(std::chrono::seconds gap, std::vector<double> values) {
  std::vector<TimedValue> readings;
  Instant at = kStart;
  for (const double value : values) {
    readings.push_back({at, value});
    at += gap;
  }
  return readings;
}

struct SaltCase {
  const char* salt;
  double celsius;
  double humidity;
  double tolerance;
};

TEST_CASE("the humidity over each salt is the published one") {
  // Greenspan 1977, J. Res. Natl. Bur. Stand. 81A:89-96. Rows with a tolerance of 0.025
  // are printed in its table 2; the others follow from the polynomials of its table 1.
  constexpr SaltCase cases[]{
      {"lithium-chloride", 5, 11.27, 0.02},     {"lithium-chloride", 10, 11.29, 0.02},
      {"lithium-chloride", 15, 11.31, 0.02},    {"lithium-chloride", 20, 11.31, 0.02},
      {"lithium-chloride", 25, 11.30, 0.02},    {"lithium-chloride", 30, 11.29, 0.02},
      {"lithium-chloride", 0, 11.23, 0.025},    {"lithium-chloride", 25, 11.30, 0.025},
      {"lithium-chloride", 50, 11.10, 0.025},   {"magnesium-chloride", 5, 33.60, 0.02},
      {"magnesium-chloride", 10, 33.48, 0.02},  {"magnesium-chloride", 15, 33.30, 0.02},
      {"magnesium-chloride", 20, 33.07, 0.02},  {"magnesium-chloride", 25, 32.79, 0.02},
      {"magnesium-chloride", 30, 32.45, 0.02},  {"magnesium-chloride", 0, 33.66, 0.025},
      {"magnesium-chloride", 25, 32.78, 0.025}, {"magnesium-chloride", 50, 30.54, 0.025},
      {"potassium-carbonate", 5, 43.14, 0.02},  {"potassium-carbonate", 10, 43.15, 0.02},
      {"potassium-carbonate", 15, 43.15, 0.02}, {"potassium-carbonate", 20, 43.16, 0.02},
      {"potassium-carbonate", 25, 43.17, 0.02}, {"potassium-carbonate", 30, 43.18, 0.02},
      {"sodium-chloride", 5, 75.65, 0.02},      {"sodium-chloride", 10, 75.68, 0.02},
      {"sodium-chloride", 15, 75.61, 0.02},     {"sodium-chloride", 20, 75.48, 0.02},
      {"sodium-chloride", 25, 75.30, 0.02},     {"sodium-chloride", 30, 75.09, 0.02},
      {"sodium-chloride", 0, 75.51, 0.025},     {"sodium-chloride", 25, 75.29, 0.025},
      {"sodium-chloride", 50, 74.43, 0.025},    {"potassium-chloride", 5, 87.67, 0.02},
      {"potassium-chloride", 10, 86.78, 0.02},  {"potassium-chloride", 15, 85.92, 0.02},
      {"potassium-chloride", 20, 85.11, 0.02},  {"potassium-chloride", 25, 84.35, 0.02},
      {"potassium-chloride", 30, 83.63, 0.02},  {"potassium-chloride", 0, 88.61, 0.025},
      {"potassium-chloride", 25, 84.34, 0.025}, {"potassium-chloride", 50, 81.20, 0.025},
      {"potassium-sulfate", 5, 98.48, 0.02},    {"potassium-sulfate", 10, 98.19, 0.02},
      {"potassium-sulfate", 15, 97.89, 0.02},   {"potassium-sulfate", 20, 97.60, 0.02},
      {"potassium-sulfate", 25, 97.30, 0.02},   {"potassium-sulfate", 30, 97.01, 0.02},
      {"potassium-sulfate", 0, 98.77, 0.025},   {"potassium-sulfate", 25, 97.30, 0.025},
      {"potassium-sulfate", 50, 95.82, 0.025}};
  for (const SaltCase& each : cases) {
    CAPTURE(each.salt);
    CAPTURE(each.celsius);
    const Salt* salt = find_salt(each.salt);
    REQUIRE(salt != nullptr);
    const auto known = salt_humidity(*salt, Celsius{each.celsius}, Kelvins{0});
    REQUIRE(known);
    CHECK(std::abs(known->value - each.humidity) <= each.tolerance);
  }
}

TEST_CASE("a temperature that a salt's formula does not cover is refused") {
  const Salt& carbonate = *find_salt("potassium-carbonate");
  CHECK(salt_humidity(carbonate, Celsius{30}, Kelvins{0}));
  CHECK_FALSE(salt_humidity(carbonate, Celsius{30.1}, Kelvins{0}));
  CHECK_FALSE(salt_humidity(carbonate, Celsius{-0.1}, Kelvins{0}));
  CHECK_FALSE(salt_humidity(carbonate, Celsius{std::nan("")}, Kelvins{0}));
  CHECK(find_salt("table-salt") == nullptr);
}

TEST_CASE("a jar whose temperature swings makes its humidity less certain") {
  const Salt& salt = *find_salt("sodium-chloride");
  const double calm = salt_humidity(salt, Celsius{20}, Kelvins{0.1})->uncertainty;
  const double swings = salt_humidity(salt, Celsius{20}, Kelvins{3.0})->uncertainty;
  // 6 % of 75.48 for each degree, a tenth of one allowed for; and half of 0.12.
  CHECK(calm == doctest::Approx(std::hypot(0.06, 0.4529)).epsilon(0.001));
  CHECK(swings ==
        doctest::Approx(std::hypot(0.06, 4.529 * 3 / std::sqrt(12.0))).epsilon(0.001));
}

TEST_CASE("a sensor that has settled is told by its mean and how sure that is") {
  const auto value =
      steady(every(60s, {20.1, 6.3, 0.9, 0.4, 0.5, 0.4, 0.4, 0.5, 0.4}), kSteadyInIce);
  REQUIRE(value);
  CHECK(value->readings == 6);
  CHECK(value->from == kStart + 3min);
  CHECK(value->to == kStart + 8min);
  CHECK(value->mean == doctest::Approx(2.6 / 6));
  CHECK(value->resolution == doctest::Approx(0.1));
  // About the line: five residuals' worth of noise of 0.058 over six readings, and the
  // resolution spread evenly over a tenth.
  CHECK(value->uncertainty > 0.1 / std::sqrt(12.0));
  CHECK(value->uncertainty < 0.05);
}

TEST_CASE("too few readings, or over too short a time, are not settled") {
  const auto few = steady(every(600s, {0.4, 0.4, 0.4, 0.4}), kSteadyInIce);
  REQUIRE_FALSE(few);
  CHECK(few.error().why == Why::kTooFew);
  CHECK(few.error().readings == 4);
  const auto brief = steady(every(10s, {0.4, 0.4, 0.4, 0.4, 0.4, 0.4}), kSteadyInIce);
  REQUIRE_FALSE(brief);
  CHECK(brief.error().why == Why::kTooShort);
  CHECK(brief.error().span == 50s);
  CHECK(steady({}, kSteadyInIce).error().why == Why::kTooFew);
}

TEST_CASE("a sensor that still cools is not settled, and the drift is told") {
  const auto cools =
      steady(every(60s, {9.0, 5.1, 3.0, 1.9, 1.3, 1.0, 0.8}), kSteadyInIce);
  REQUIRE_FALSE(cools);
  CHECK(cools.error().why == Why::kDrifts);
  CHECK(cools.error().amount < -3);
  CHECK(cools.error().span == 5min);
  // Half a tenth in the hour's humidity does not.
  CHECK(steady(every(600s, {75.0, 75.0, 75.0, 75.1, 75.1, 75.1, 75.1}), kSteadyOverSalt));
}

TEST_CASE("a value that jumps about is not settled") {
  const auto jumps =
      steady(every(60s, {0.31, 0.9, 0.1, 0.8, 0.2, 0.93, 0.3}), kSteadyInIce);
  REQUIRE_FALSE(jumps);
  CHECK(jumps.error().why == Why::kScatters);
}

TEST_CASE("a coarse sensor may step at the end and is the less certain for it") {
  const std::vector<double> steps{2.0, 1.0, 0.5, 0.5, 0.5, 0.5, 0.0, 0.0, 0.0};
  CHECK_FALSE(steady(every(60s, steps), kSteadyInIce));
  const auto value =
      steady(every(60s, {2.0, 1.0, 0.5, 0.5, 0.5, 0.5, 0.5, 0.0}), kSteadyInIce);
  REQUIRE(value);
  CHECK(value->resolution == doctest::Approx(0.5));
  CHECK(value->uncertainty > 0.5 / std::sqrt(12.0));
}

TEST_CASE("one that never says another value is taken for the coarsest") {
  const auto value = steady(every(60s, {0.4, 0.4, 0.4, 0.4, 0.4, 0.4}), kSteadyInIce);
  REQUIRE(value);
  CHECK(value->mean == doctest::Approx(0.4));
  CHECK(value->uncertainty == doctest::Approx(0.5 / std::sqrt(12.0)));
}

TEST_CASE("an offset is what was true less what was said") {
  const CheckPoint point = check_point(
      {.mean = 0.43, .uncertainty = 0.03, .resolution = 0.1, .from = {}, .to = {}},
      ice_point());
  const CorrectionLine line = offset_through(point);
  CHECK(line.gain == 1);
  CHECK(line.offset == doctest::Approx(-0.43));
  CHECK(line.uncertainty95 == doctest::Approx(2 * std::hypot(0.03, 0.05)));
}

TEST_CASE("a line through two points meets both") {
  const CheckPoint dry{.said = 36.0, .known = 33.07, .uncertainty = 0.4};
  const CheckPoint damp{.said = 80.1, .known = 75.48, .uncertainty = 0.6};
  const auto line = line_through(dry, damp, Channel::kHumidity);
  REQUIRE(line);
  CHECK(line->gain * dry.said + line->offset == doctest::Approx(dry.known));
  CHECK(line->gain * damp.said + line->offset == doctest::Approx(damp.known));
  CHECK(line->uncertainty95 == doctest::Approx(1.2));
}

TEST_CASE("two points that lie together, or run against each other, make no line") {
  const CheckPoint one{.said = 20.0, .known = 20.4};
  CHECK_FALSE(line_through(one, one, Channel::kAirTemperature));
  CHECK_FALSE(line_through(one, {.said = 22, .known = 40}, Channel::kAirTemperature));
  CHECK_FALSE(line_through(one, {.said = 40, .known = 21}, Channel::kAirTemperature));
  CHECK_FALSE(line_through(one, {.said = 40, .known = 2}, Channel::kAirTemperature));
  CHECK(line_through(one, {.said = 0.3, .known = 0}, Channel::kAirTemperature));
}

TEST_CASE("how far off a sound sensor may be follows its type, to a degree at most") {
  const SensorType fine{.name = "fine", .temperature = {-40, 125}, .accuracy = 0.2};
  const SensorType coarse{.name = "coarse", .temperature = {-40, 85}, .accuracy = 1.5};
  CHECK(*largest_sound_offset(Channel::kAirTemperature, nullptr) == 1.0);
  CHECK(*largest_sound_offset(Channel::kSoilTemperature, &fine) == doctest::Approx(0.4));
  CHECK(*largest_sound_offset(Channel::kAirTemperature, &coarse) == 1.0);
  CHECK(*largest_sound_offset(Channel::kHumidity, &fine) == 10.0);
  CHECK_FALSE(largest_sound_offset(Channel::kLight, nullptr));
}

}  // namespace
}  // namespace rimeward
