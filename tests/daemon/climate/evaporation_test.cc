#include "daemon/climate/evaporation.h"

#include <cmath>

#include <doctest/doctest.h>

#include "daemon/climate/humidity.h"
#include "daemon/climate/radiation.h"

namespace rimeward {
namespace {

void check_near(double computed, double published, double tolerance) {
  CAPTURE(computed);
  CAPTURE(published);
  CHECK(std::abs(computed - published) <= tolerance);
}

constexpr MegajoulesPerSquareMetre kSummerDay{40.0};

}  // namespace

// FAO-56, examples 8 (32.2 MJ are 13.1 mm) and, from memory, 20 (40.55 MJ are 16.54).
TEST_CASE("energy evaporates the depths of water of the worked examples") {
  check_near(evaporated_by({32.194}).millimetres, 13.1, 0.06);
  check_near(evaporated_by({40.55}).millimetres, 16.54, 0.006);
}

// FAO-56, example 20: Lyon, July, 45.72 degrees north, high 26.6, low 14.8: 5.0 mm, 5.03
// before rounding (recomputed).
TEST_CASE("the evapotranspiration of the worked example comes out") {
  const auto radiation = extraterrestrial_radiation({196}, {45.72, 4.84});
  const Millimetres depth = reference_evapotranspiration({26.6}, {14.8}, radiation);
  check_near(depth.millimetres, 5.0, 0.06);
  check_near(depth.millimetres, 5.03, 0.006);
}

// FAO-56, examples 17 (Bangkok, April) and 18 (Uccle, 6 July): 5.72 and 3.88 mm by Penman
// and Monteith's full method, with the wind, sunshine and humidity that this one has to
// do without. It comes to 9 % less and 5 % more: that it is near, not how near, is
// published.
TEST_CASE("evapotranspiration by temperature is near that by the full method") {
  const auto bangkok = extraterrestrial_radiation({105}, {13.73, 100.5});
  const auto uccle = extraterrestrial_radiation({187}, {50.8, 4.35});
  check_near(reference_evapotranspiration({34.8}, {25.6}, bangkok).millimetres / 5.72,
             1.0, 0.15);
  check_near(reference_evapotranspiration({21.5}, {12.3}, uccle).millimetres / 3.88, 1.0,
             0.15);
}

TEST_CASE("evapotranspiration is nothing without sun, range or warmth, never negative") {
  CHECK(reference_evapotranspiration({5.0}, {-5.0}, {0.0}).millimetres == 0.0);
  CHECK(reference_evapotranspiration({20.0}, {20.0}, kSummerDay).millimetres == 0.0);
  CHECK(reference_evapotranspiration({-15.0}, {-30.0}, kSummerDay).millimetres == 0.0);
  CHECK(reference_evapotranspiration({20.0}, {10.0}, kSummerDay) <
        reference_evapotranspiration({22.0}, {10.0}, kSummerDay));
}

// FAO-56, example 19: deficits of hours, 3.180 and 0.378 kPa: by rounding alike.
TEST_CASE("an hour adds its deficit in thousandths to the drying demand") {
  CHECK(drying_demand_of_hour(38'000, 52'000) == 3180);
  CHECK(drying_demand_of_hour(28'000, 90'000) == 378);
  CHECK(drying_demand(3180 + 378).kilopascal_hours == doctest::Approx(3.558));
}

TEST_CASE("saturated air adds nothing to the drying demand, nor does fog") {
  CHECK(drying_demand_of_hour(12'000, 100'000) == 0);
  CHECK(drying_demand_of_hour(12'000, 104'000) == 0);
  CHECK(drying_demand_of_hour(-8'000, 100'000) == 0);
}

TEST_CASE("drying demand rises with warmth and falls with humidity") {
  for (Milli air = -20'000; air < 50'000; air += 1'000) {
    for (Milli humidity = 0; humidity < 100'000; humidity += 5'000) {
      CAPTURE(air);
      CAPTURE(humidity);
      const std::int64_t demand = drying_demand_of_hour(air, humidity);
      CHECK(demand >= 0);
      CHECK(demand <= drying_demand_of_hour(air + 1'000, humidity));
      CHECK(demand >= drying_demand_of_hour(air, humidity + 5'000));
    }
  }
}

TEST_CASE(
    "the deficit of an hour's means is at most 2 % under the mean of its deficits") {
  // Air that warms evenly from 20 to 25 degrees, its vapour unchanged.
  const Kilopascals vapour = vapour_pressure({20.0}, {70.0});
  double deficits = 0.0;
  double humidities = 0.0;
  constexpr int kMinutes = 60;
  for (int minute = 0; minute < kMinutes; ++minute) {
    const Celsius air{20.0 + 5.0 * (minute + 0.5) / kMinutes};
    const RelativeHumidity humidity = relative_humidity(vapour, air);
    deficits += vapour_pressure_deficit(air, humidity).kilopascals / kMinutes;
    humidities += humidity.percent / kMinutes;
  }
  const auto demand = drying_demand_of_hour(22'500, to_milli(humidities));
  const double share = drying_demand(demand).kilopascal_hours / deficits;
  CHECK(share < 1.0);
  CHECK(share > 0.98);
}

}  // namespace rimeward
