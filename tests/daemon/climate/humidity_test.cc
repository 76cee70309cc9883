#include "daemon/climate/humidity.h"

#include <array>
#include <cmath>
#include <optional>

#include <doctest/doctest.h>

#include "daemon/climate/dew_point.h"
#include "tests/daemon/climate/outlook_replay.h"
#include "tests/support/shared_folder.h"

namespace rimeward {
namespace {

// A published figure, and how far off is still right: half its last digit, unless a
// comment beside it says otherwise.
void check_near(double computed, double published, double tolerance) {
  CAPTURE(computed);
  CAPTURE(published);
  CHECK(std::abs(computed - published) <= tolerance);
}

double off_by(double computed, double reference) {
  return std::abs(computed / reference - 1.0);
}

double fao56(double air) {
  return saturation_pressure_fao56({air}).kilopascals;
}

Celsius dew_point_of(double air, double humidity) {
  const auto point = dew_point(vapour_pressure({air}, {humidity}));
  REQUIRE(point);
  return *point;
}

// Over water: IAPWS (Wagner & Pruss 1993, J. Phys. Chem. Ref. Data 22, 783) above 0
// degrees C, Murphy & Koop (2005, Q. J. R. Meteorol. Soc. 131, eq. 10) up to it; over
// ice: IAPWS R14-08. Computed from those equations.
struct Reference {
  double air;
  double over_water;  // Pa
  std::optional<double> over_ice;
};
constexpr std::array kReferences{
    Reference{-40, 18.912, 12.841},   Reference{-35, 31.414, 22.344},
    Reference{-30, 50.936, 38.005},   Reference{-25, 80.777, 63.274},
    Reference{-20, 125.504, 103.239}, Reference{-15, 191.310, 165.274},
    Reference{-10, 286.453, 259.874}, Reference{-5, 421.761, 401.741},
    Reference{0, 611.213, 611.153},   Reference{5, 872.530, {}},
    Reference{10, 1228.112, {}},      Reference{15, 1705.677, {}},
    Reference{20, 2339.194, {}},      Reference{25, 3169.824, {}},
    Reference{30, 4246.920, {}},      Reference{35, 5629.057, {}},
    Reference{40, 7385.110, {}},      Reference{45, 9595.338, {}},
    Reference{50, 12352.479, {}}};

void check_reference(const Reference& row) {
  CAPTURE(row.air);
  // The errors that the header states: they are the formula's own, not the code's.
  const double water = saturation_pressure({row.air}).kilopascals * 1000.0;
  CHECK(off_by(water, row.over_water) < (row.air < -20.0 ? 0.0035 : 0.00065));
  if (row.air >= 0.0) CHECK(off_by(fao56(row.air) * 1000.0, row.over_water) < 0.0014);
  if (!row.over_ice) return;
  const double ice = saturation_pressure_over_ice({row.air}).kilopascals * 1000.0;
  CHECK(off_by(ice, *row.over_ice) < 0.0007);
}

// FAO-56, annex 2, table 2.3: temperature, kPa. 1.0 and 37.5 degrees from memory.
constexpr std::array<std::array<double, 2>, 20> kTable23{
    {{1.0, 0.657},  {2.0, 0.706},  {5.0, 0.872},  {7.5, 1.037},  {10.0, 1.228},
     {12.5, 1.449}, {15.0, 1.705}, {17.5, 2.000}, {20.0, 2.338}, {22.5, 2.726},
     {25.0, 3.168}, {27.5, 3.671}, {30.0, 4.243}, {32.5, 4.891}, {35.0, 5.623},
     {37.5, 6.448}, {40.0, 7.376}, {42.5, 8.417}, {45.0, 9.582}, {48.5, 11.447}}};

// Calls `check(air, humidity)` over the range that a garden has.
template <class Check>
void over_the_range(Check check) {
  for (double air = -40.0; air <= 60.0; air += 2.5) {
    for (double humidity = 2.0; humidity <= 100.0; humidity += 3.5)
      check(Celsius{air}, RelativeHumidity{humidity});
  }
}

// A degree of the bulb is worth more than 0.03 kPa at every pressure.
constexpr double kMillionthOfDegree = 3e-8;

void check_solved(Celsius air, RelativeHumidity humidity, Hectopascals pressure) {
  const Celsius bulb = wet_bulb(air, humidity, pressure);
  const double vapour = vapour_pressure(air, humidity).kilopascals;
  const double cooling = pressure.hectopascals / 10.0 * (air - bulb).degrees;
  if (bulb.degrees < 0.0) {
    const double solved =
        saturation_pressure_over_ice(bulb).kilopascals - 5.75e-4 * cooling;
    // Held to the air's temperature where ice would grow.
    if (bulb == air) CHECK(solved <= vapour + kMillionthOfDegree);
    if (bulb < air) check_near(solved, vapour, kMillionthOfDegree);
  } else {
    const double constant = 6.53e-4 * (1 + 9.44e-4 * bulb.degrees);
    check_near(saturation_pressure(bulb).kilopascals - constant * cooling, vapour,
               kMillionthOfDegree);
  }
}

}  // namespace

TEST_CASE(
    "saturation pressures are within the stated errors of the reference equations") {
  for (const Reference& row : kReferences)
    check_reference(row);
}

TEST_CASE("saturation pressures hold at every temperature of the reference grid") {
  const auto shared = shared_folder();
  if (!shared) {
    MESSAGE("skipped: no folder of check values, see tests/support/shared_folder.h");
    return;
  }
  const auto rows = read_table(*shared / "reference" / "01_svp_reference_grid.csv");
  CHECK(rows.size() == 19);
  for (const auto& row : rows) {
    const std::string& ice = row.at("ref_ice_pa");
    check_reference({number_from(row.at("t_c")), number_from(row.at("ref_water_pa")),
                     ice.empty() ? std::nullopt : std::optional{number_from(ice)}});
  }
}

// Murphy & Koop (2005), table C1, and the check values of IAPWS R14-08 (2011) and
// IAPWS-IF97, region 4: from memory.
TEST_CASE("saturation pressures agree with the check values of those who set them") {
  const auto pascals = [](Kilopascals pressure) { return pressure.kilopascals * 1000.0; };
  // The tolerances are the formulas' own errors, as above; -33.15 degrees is where that
  // of Buck's form has grown to 0.15 %.
  CHECK(off_by(pascals(saturation_pressure({240.0 - 273.15})), 37.667) < 0.002);
  CHECK(off_by(pascals(saturation_pressure_over_ice({240.0 - 273.15})), 27.272) < 0.0007);
  CHECK(off_by(pascals(saturation_pressure({0.0})), 611.213) < 0.0001);
  CHECK(off_by(pascals(saturation_pressure_over_ice({0.0})), 611.154) < 0.0001);
  CHECK(off_by(pascals(saturation_pressure({300.0 - 273.15})), 3536.59) < 0.00065);
  // 43 degrees below zero is outside the range that the header promises 0.07 % for.
  CHECK(off_by(pascals(saturation_pressure_over_ice({230.0 - 273.15})), 8.94735) < 0.001);
}

TEST_CASE("the form of FAO-56 gives its table of saturation pressures") {
  for (const auto& [air, published] : kTable23) {
    CAPTURE(air);
    check_near(fao56(air), published, 0.0006);
  }
}

TEST_CASE("the form of FAO-56 gives every row of its table") {
  const auto shared = shared_folder();
  if (!shared) {
    MESSAGE("skipped: no folder of check values, see tests/support/shared_folder.h");
    return;
  }
  const auto rows = read_table(*shared / "reference" / "01_svp_fao56_table2_3.csv");
  CHECK(rows.size() == 96);
  for (const auto& row : rows) {
    CAPTURE(row.at("t_c"));
    check_near(fao56(number_from(row.at("t_c"))), number_from(row.at("es_kpa_published")),
               0.0006);
  }
}

// FAO-56, examples 3, 5, 6, 18, 19 and 20. Tolerances: the rounding of the printed
// figure, and a tenth of it for that of the figures that went into it.
TEST_CASE("the worked examples of FAO-56 come out") {
  // Example 3: from high and low, and why not from their mean.
  check_near(fao56(24.5), 3.075, 0.0006);
  check_near(fao56(15.0), 1.705, 0.0006);
  check_near((fao56(24.5) + fao56(15.0)) / 2, 2.39, 0.006);
  check_near(fao56(19.75), 2.30, 0.006);
  // Example 5: a day's vapour pressure from its extreme humidities, and their mean.
  const double extreme = (fao56(18.0) * 0.82 + fao56(25.0) * 0.54) / 2;
  check_near(extreme, 1.70, 0.006);
  check_near(0.68 * (fao56(18.0) + fao56(25.0)) / 2, 1.78, 0.006);
  // Example 6: that day's deficit.
  check_near((fao56(18.0) + fao56(25.0)) / 2 - extreme, 0.91, 0.006);
  // Example 18.
  check_near((fao56(21.5) + fao56(12.3)) / 2, 1.997, 0.002);
  check_near((fao56(12.3) * 0.84 + fao56(21.5) * 0.63) / 2, 1.409, 0.002);
  // Example 19: an hour's vapour pressure and deficit. 0.0011: one in the last digit.
  check_near(fao56(28.0) * 0.90, 3.402, 0.0011);
  check_near(fao56(38.0) * 0.52, 3.445, 0.0011);
  check_near(vapour_pressure_deficit({38.0}, {52.0}).kilopascals, 3.180, 0.0011);
  check_near(vapour_pressure_deficit({28.0}, {90.0}).kilopascals, 0.378, 0.0011);
  // The same by the more exact form: 0.14 % is by how much FAO's is off.
  CHECK(off_by(vapour_pressure({28.0}, {90.0}).kilopascals, 3.402) < 0.0014);
  CHECK(off_by(vapour_pressure({38.0}, {52.0}).kilopascals, 3.445) < 0.0014);
  // Example 20: vapour pressure of a dew point of 14.8.
  check_near(fao56(14.8), 1.68, 0.006);
}

// Plain definitions; from memory, but for the last, a relation of moist air that lecture
// notes (Penn State, 25 degrees C, 75 %, 100 kPa) print, seen.
TEST_CASE("dew points and masses of vapour are those of the textbooks") {
  check_near(dew_point_of(40.0, 50.0).degrees, 27.6, 0.06);
  check_near(dew_point_of(20.0, 100.0).degrees, 20.0, 1e-9);
  // 80 % at 20 degrees: 13.82 by another saturation formula, 0.1 % off.
  check_near(absolute_humidity({20.0}, {80.0}).grams, 13.82, 0.03);
  const double vapour = vapour_pressure({25.0}, {75.0}).kilopascals;
  check_near(100.0 - vapour, 97.62, 0.01);
  check_near(0.622 * vapour / (100.0 - vapour), 0.0152, 6e-5);
}

// Readings of a psychrometric chart: ASHRAE Handbook Fundamentals, psychrometrics,
// example 1 (from memory; 40 degrees C, wet bulb 20) and Felder & Rousseau, problem 8.72
// (seen; 40 degrees, dew point 20). A chart is read to half a degree and to 2 % of
// humidity.
TEST_CASE("the charts' examples come out as far as a chart can be read") {
  check_near(wet_bulb({40.0}, {14.0}, kSeaLevelPressure).degrees, 20.0, 0.5);
  check_near(dew_point_of(40.0, 14.0).degrees, 7.0, 0.6);
  const Kilopascals vapour = saturation_pressure({20.0});
  const RelativeHumidity humidity = relative_humidity(vapour, {40.0});
  check_near(humidity.percent, 33.0, 2.0);
  check_near(0.622 * vapour.kilopascals / (101.325 - vapour.kilopascals), 0.0148, 2e-4);
  check_near(wet_bulb({40.0}, humidity, kSeaLevelPressure).degrees, 25.5, 0.6);
}

// WMO-No. 8, part I, ch. 4, annex 4.B: values of its formulas, from memory, in hPa. Over
// water Buck's form differs from the WMO's by 0.17 % at -10 degrees and 0.25 % at 20.
TEST_CASE("water below freezing and ice are not interchanged") {
  CHECK(off_by(saturation_pressure({20.0}).kilopascals * 10, 23.33) < 0.003);
  CHECK(off_by(saturation_pressure({-10.0}).kilopascals * 10, 2.868) < 0.002);
  CHECK(off_by(saturation_pressure_over_ice({-10.0}).kilopascals * 10, 2.597) < 0.001);
  for (double air = -60.0; air < 0.0; air += 0.5) {
    CAPTURE(air);
    CHECK(saturation_pressure_over_ice({air}) < saturation_pressure({air}));
  }
}

// Computed with the Magnus form of Alduchov & Eskridge; 0.1 covers the difference.
TEST_CASE("air near saturation is as close to its dew point as the handbooks say") {
  check_near(dew_point_of(15.56, 95.0).degrees, 14.76, 0.1);
  check_near(dew_point_of(10.0, 85.0).degrees, 7.59, 0.1);
  check_near(dew_point_of(20.0, 90.0).degrees, 18.31, 0.1);
}

// The two deficits that greenhouse handbooks bound disease with (Prenger & Ling 2001,
// Ohio State University Extension, AEX-804: 0.20 and 0.43 kPa, from memory), as
// humidities by temperature: computed from the Magnus form, which differs by up to 0.3 %.
TEST_CASE("deficits and humidities that mean the same give each other") {
  struct Pair {
    double air;
    double deficit;
    double humidity;
  };
  constexpr std::array kPairs{Pair{5, 0.20, 77.1},  Pair{5, 0.43, 50.7},
                              Pair{10, 0.20, 83.7}, Pair{10, 0.43, 64.9},
                              Pair{15, 0.20, 88.2}, Pair{15, 0.43, 74.7},
                              Pair{20, 0.20, 91.4}, Pair{20, 0.43, 81.6},
                              Pair{25, 0.20, 93.7}, Pair{25, 0.43, 86.4}};
  for (const Pair& pair : kPairs) {
    CAPTURE(pair.air);
    const Kilopascals vapour{saturation_pressure({pair.air}).kilopascals - pair.deficit};
    check_near(relative_humidity(vapour, {pair.air}).percent, pair.humidity, 0.3);
    // 0.3 % of humidity is 0.01 kPa at 25 degrees.
    check_near(vapour_pressure_deficit({pair.air}, {pair.humidity}).kilopascals,
               pair.deficit, 0.01);
  }
}

TEST_CASE("the wet bulb is that of the published examples") {
  // Stull (2011), J. Appl. Meteorol. Climatol. 50, 2267, worked example, from
  // memory: 13.7 degrees C by his fit, which is good to 0.3.
  check_near(wet_bulb({20.0}, {50.0}, kSeaLevelPressure).degrees, 13.7, 0.3);
  // FAO-56, example 4, at 1,200 m (87.9 kPa): dry 25.6, wet 19.5, vapour 1.91 kPa. FAO's
  // constant is 0.000662, the WMO's 0.000665 at that bulb.
  const RelativeHumidity humidity = relative_humidity({1.91}, {25.6});
  check_near(wet_bulb({25.6}, humidity, {879.0}).degrees, 19.5, 0.06);
}

TEST_CASE("a wet bulb solves its equation to a millionth of a degree") {
  over_the_range([](Celsius air, RelativeHumidity humidity) {
    CAPTURE(air.degrees);
    CAPTURE(humidity.percent);
    for (const double pressure : {600.0, 950.0, 1050.0})
      check_solved(air, humidity, {pressure});
  });
}

TEST_CASE("the dew point is never above the air, nor the wet bulb outside the two") {
  over_the_range([](Celsius air, RelativeHumidity humidity) {
    CAPTURE(air.degrees);
    CAPTURE(humidity.percent);
    const Celsius dew = dew_point_of(air.degrees, humidity.percent);
    const Celsius bulb = wet_bulb(air, humidity, kSeaLevelPressure);
    // The inverse is exact but for rounding.
    constexpr Kelvins kRounding{1e-9};
    CHECK(dew <= air + kRounding);
    CHECK(bulb <= air);
    CHECK(bulb >= dew - kRounding);
  });
}

TEST_CASE("frost forms at a higher temperature than dew wherever it forms at all") {
  over_the_range([](Celsius air, RelativeHumidity humidity) {
    const Kilopascals vapour = vapour_pressure(air, humidity);
    const auto frost = frost_point(vapour);
    CAPTURE(air.degrees);
    CAPTURE(humidity.percent);
    CHECK(frost.has_value() == (vapour < saturation_pressure_over_ice({0.0})));
    if (!frost) return;
    CHECK(*frost < Celsius{0.0});
    CHECK(*frost > *dew_point(vapour));
  });
}

TEST_CASE("moister air of one temperature has a higher dew point, wet bulb and vapour") {
  for (double air = -40.0; air <= 60.0; air += 4.0) {
    CAPTURE(air);
    for (double humidity = 1.0; humidity < 100.0; humidity += 1.0) {
      CAPTURE(humidity);
      const RelativeHumidity less{humidity};
      const RelativeHumidity more{humidity + 1.0};
      CHECK(dew_point_of(air, less.percent) < dew_point_of(air, more.percent));
      CHECK(absolute_humidity({air}, less) < absolute_humidity({air}, more));
      CHECK(vapour_pressure_deficit({air}, less) > vapour_pressure_deficit({air}, more));
      CHECK(wet_bulb({air}, less, kSeaLevelPressure) <=
            wet_bulb({air}, more, kSeaLevelPressure));
    }
  }
}

TEST_CASE("dew point and frost point invert the saturation pressures") {
  for (double point = -60.0; point <= 70.0; point += 0.25) {
    CAPTURE(point);
    const auto dew = dew_point(saturation_pressure({point}));
    REQUIRE(dew);
    check_near(dew->degrees, point, 1e-9);
    if (point >= 0.0) continue;
    const auto frost = frost_point(saturation_pressure_over_ice({point}));
    REQUIRE(frost);
    check_near(frost->degrees, point, 1e-9);
  }
}

TEST_CASE("humidity and vapour pressure give each other") {
  over_the_range([](Celsius air, RelativeHumidity humidity) {
    const Kilopascals vapour = vapour_pressure(air, humidity);
    check_near(relative_humidity(vapour, air).percent, humidity.percent, 1e-9);
  });
}

TEST_CASE("air without vapour has no dew point and no frost point") {
  CHECK_FALSE(dew_point(vapour_pressure({20.0}, {0.0})));
  CHECK_FALSE(frost_point(vapour_pressure({-5.0}, {0.0})));
  // It has a wet bulb, and the whole deficit.
  CHECK(wet_bulb({20.0}, {0.0}, kSeaLevelPressure) < Celsius{8.0});
  CHECK(vapour_pressure_deficit({20.0}, {0.0}) == saturation_pressure_fao56({20.0}));
  CHECK(absolute_humidity({20.0}, {0.0}) == GramsPerCubicMetre{0.0});
}

TEST_CASE("a humidity beyond 0 to 100 % counts as the nearer end") {
  CHECK(vapour_pressure({8.0}, {104.0}) == saturation_pressure({8.0}));
  CHECK(vapour_pressure_deficit({8.0}, {104.0}) == Kilopascals{0.0});
  CHECK(wet_bulb({8.0}, {104.0}, kSeaLevelPressure).degrees ==
        doctest::Approx(8.0).epsilon(1e-9));
  CHECK(vapour_pressure({8.0}, {-1.0}) == Kilopascals{0.0});
}

TEST_CASE("the outlook's own dew point is within 0.06 degrees of this one") {
  for (double air = -20.0; air <= 50.0; air += 2.5) {
    for (double humidity = 20.0; humidity <= 100.0; humidity += 5.0) {
      CAPTURE(air);
      CAPTURE(humidity);
      check_near(dew_point({air}, {humidity}).degrees,
                 dew_point_of(air, humidity).degrees, 0.06);
    }
  }
}

}  // namespace rimeward
