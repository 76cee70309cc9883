#include "daemon/climate/degree_days.h"

#include <array>
#include <cmath>
#include <fstream>
#include <numbers>
#include <numeric>
#include <random>
#include <span>
#include <string>
#include <vector>

#include <doctest/doctest.h>
#include <nlohmann/json.hpp>

#include "tests/support/shared_folder.h"

namespace rimeward {
namespace {

constexpr std::array kCutOffs{CutOff::kHorizontal, CutOff::kIntermediate,
                              CutOff::kVertical};

WarmthLimits above(double base) {
  return {.base = {base}};
}

WarmthLimits between(double base, double upper, CutOff cut_off) {
  return {.base = {base}, .upper = Celsius{upper}, .cut_off = cut_off};
}

// The figures of a day by horizontal, intermediate and vertical cut-off.
struct CutRow {
  DayRange day;
  double base;
  double upper;
  std::array<double, 3> sine;
  std::array<double, 3> triangle;
};

// The methods as Baskerville & Emin (1969) and Zalom et al. (1983) define them; the days
// are this project's, the figures reckoned in closed form and by numerical integration,
// which agree to the digits given.
constexpr std::array kCutRows{
    CutRow{{{12}, {24}}, 10, 30, {8, 8, 8}, {8, 8, 8}},
    CutRow{{{4}, {16}}, 10, 30, {1.9099, 1.9099, 1.9099}, {1.5, 1.5, 1.5}},
    CutRow{{{6}, {22}}, 10, 30, {4.8720, 4.8720, 4.8720}, {4.5, 4.5, 4.5}},
    CutRow{{{18}, {36}}, 10, 30, {15.4745, 13.9491, 7.6380}, {16, 15, 9.3333}},
    CutRow{{{2}, {8}}, 10, 30, {0, 0, 0}, {0, 0, 0}},
    CutRow{{{8}, {34}}, 10, 30, {10.5606, 9.8840, 5.4287}, {10.7692, 10.4615, 7.6923}},
    CutRow{{{31}, {38}}, 10, 30, {20, 15.5, 0}, {20, 15.5, 0}},
    CutRow{{{10}, {30}}, 10, 30, {10, 10, 10}, {10, 10, 10}},
    CutRow{{{15}, {15}}, 10, 30, {5, 5, 5}, {5, 5, 5}},
};

struct OpenRow {
  DayRange day;
  double base;
  double sine;
  double triangle;
};

// As above, without an upper threshold.
constexpr std::array kOpenRows{
    OpenRow{{{-2}, {14}}, 5, 3.0664, 2.5312},
    OpenRow{{{3}, {13}}, 5, 3.3877, 3.2000},
    OpenRow{{{-1}, {5}}, 0, 2.1763, 2.0833},
    OpenRow{{{5}, {15}}, 10, 1.5915, 1.2500},
};

struct AverageRow {
  DayRange day;
  double base;
  double method_1;
  double method_2;
};

// The two readings of the simple average in McMaster & Wilhelm (1997), reckoned from
// their definitions.
constexpr std::array kAverageRows{
    AverageRow{{{5}, {25}}, 10, 5, 7.5}, AverageRow{{{-4}, {10}}, 0, 3, 5},
    AverageRow{{{12}, {24}}, 10, 8, 8},  AverageRow{{{2}, {8}}, 10, 0, 0},
    AverageRow{{{-6}, {4}}, 0, 0, 2},    AverageRow{{{0}, {18}}, 10, 0, 4},
    AverageRow{{{8}, {11}}, 10, 0, 0.5},
};

// Half a unit of the fourth decimal, at which the figures are cut.
constexpr double kPrinted = 0.0000501;
constexpr double kExact = 1e-9;

constexpr std::array<double, 24> kSpringDay{
    4.2,  3.6,  3.1,  2.7,  2.3,  2.0,  2.4,  4.1,  7.0, 9.8, 12.4, 14.6,
    16.3, 17.5, 18.1, 18.0, 17.1, 15.4, 12.9, 10.6, 8.8, 7.3, 6.1,  5.1};

Milli summed(std::span<const double> hourly, const WarmthLimits& limits) {
  return std::transform_reduce(
      hourly.begin(), hourly.end(), Milli{0}, std::plus<>{},
      [&](double air) { return degree_hours(to_milli(air), limits); });
}

DegreeDays measured(std::span<const double> hourly, const WarmthLimits& limits) {
  return degree_days(summed(hourly, limits));
}

// The mean over `samples` instants of a day that is a sine from low to high.
double sampled_sine(const DayRange& day, const WarmthLimits& limits, int samples) {
  const double mean = std::midpoint(day.low.degrees, day.high.degrees);
  const double amplitude = (day.high.degrees - day.low.degrees) / 2;
  std::int64_t sum = 0;
  for (int i = 0; i < samples; ++i) {
    const double phase = 2 * std::numbers::pi * (i + 0.5) / samples;
    sum += degree_hours(to_milli(mean + amplitude * std::sin(phase)), limits);
  }
  return static_cast<double>(sum) / 1000.0 / samples;
}

// Days as they come in gardens, the same at every call.
std::vector<DayRange> many_days() {
  std::mt19937 random{20260412};
  std::uniform_real_distribution<double> low{-15, 30};
  std::uniform_real_distribution<double> range{0, 25};
  std::vector<DayRange> days;
  for (int i = 0; i < 2'000; ++i) {
    const double of = low(random);
    days.push_back({{of}, {of + range(random)}});
  }
  return days;
}

}  // namespace

TEST_CASE("a sine and a triangle with a cut-off come to the published methods' figures") {
  for (const CutRow& row : kCutRows) {
    CAPTURE(row.day.low.degrees);
    CAPTURE(row.day.high.degrees);
    for (std::size_t i = 0; i < kCutOffs.size(); ++i) {
      CAPTURE(i);
      const WarmthLimits limits = between(row.base, row.upper, kCutOffs[i]);
      CHECK(std::abs(single_sine(row.day, limits).degree_days - row.sine[i]) < kPrinted);
      CHECK(std::abs(single_triangle(row.day, limits).degree_days - row.triangle[i]) <
            kPrinted);
    }
  }
}

TEST_CASE("a sine and a triangle above a base come to the published methods' figures") {
  for (const OpenRow& row : kOpenRows) {
    CAPTURE(row.day.low.degrees);
    const WarmthLimits limits = above(row.base);
    CHECK(std::abs(single_sine(row.day, limits).degree_days - row.sine) < kPrinted);
    CHECK(std::abs(single_triangle(row.day, limits).degree_days - row.triangle) <
          kPrinted);
  }
}

TEST_CASE("the simple average is told in both published ways") {
  for (const AverageRow& row : kAverageRows) {
    CAPTURE(row.day.low.degrees);
    const WarmthLimits limits = above(row.base);
    CHECK(average_method_1(row.day, limits).degree_days == doctest::Approx(row.method_1));
    CHECK(average_method_2(row.day, limits).degree_days == doctest::Approx(row.method_2));
  }
}

// UC IPM, citrus table cit-t01: a mean of 64 F is 11 day-degrees F above 53 F.
TEST_CASE("a table in Fahrenheit is the one in Celsius by five ninths") {
  const auto celsius = [](double fahrenheit) { return (fahrenheit - 32) / 1.8; };
  const DayRange day{{celsius(58)}, {celsius(70)}};
  const double found = average_method_1(day, above(celsius(53))).degree_days;
  CHECK(found * 1.8 == doctest::Approx(11));
}

// McMaster & Wilhelm (1997): with an upper threshold, method 1 holds the mean to it and
// method 2 each extreme.
TEST_CASE("an upper threshold holds the mean, or each extreme") {
  const WarmthLimits limits = between(10, 30, CutOff::kHorizontal);
  CHECK(average_method_1({{20}, {36}}, limits).degree_days == doctest::Approx(18));
  CHECK(average_method_2({{20}, {36}}, limits).degree_days == doctest::Approx(15));
  CHECK(average_method_1({{31}, {36}}, limits).degree_days == doctest::Approx(20));
}

// Met Eireann, climate data note on degree days: the four cases.
TEST_CASE("the weather services' four cases give what they say") {
  CHECK(four_case_above({{7}, {17}}, {5.5}).degree_days == doctest::Approx(6.5));
  CHECK(four_case_above({{1}, {13}}, {5.5}).degree_days == doctest::Approx(2.625));
  CHECK(four_case_above({{-3}, {9}}, {5.5}).degree_days == doctest::Approx(0.875));
  CHECK(four_case_above({{0}, {5}}, {5.5}).degree_days == 0.0);
  CHECK(four_case_above({{-2}, {14}}, {6}).degree_days == doctest::Approx(2));
  CHECK(four_case_below({{1}, {13}}, {5.5}).degree_days == doctest::Approx(1.125));
  CHECK(four_case_below({{-3}, {9}}, {5.5}).degree_days == doctest::Approx(3.375));
  CHECK(four_case_below({{0}, {5}}, {5.5}).degree_days == doctest::Approx(3));
}

// Perry & Wehner (1996), HortTechnology 6, 27-30: cucumbers, base 15.5, ceiling 32.
TEST_CASE("above a reduced ceiling a high counts as far below it") {
  const auto units = [](double high) {
    return reduced_ceiling({high}, {15.5}, {32}).degree_days;
  };
  CHECK(units(14) == 0.0);
  CHECK(units(20) == doctest::Approx(4.5));
  CHECK(units(28) == doctest::Approx(12.5));
  CHECK(units(32) == doctest::Approx(16.5));
  CHECK(units(36) == doctest::Approx(12.5));
  CHECK(units(40) == doctest::Approx(8.5));
  CHECK(units(49) == 0.0);
}

// This project's own day; the figures are means of max(0, min(air, 30) - base) over the
// hours, printed to five decimals.
TEST_CASE("the measured curve is the mean of what each hour has above the base") {
  const auto horizontal = [](double base, double upper) {
    return measured(kSpringDay, between(base, upper, CutOff::kHorizontal)).degree_days;
  };
  CHECK(std::abs(horizontal(5, 30) - 4.875) < 0.00001);
  CHECK(std::abs(horizontal(10, 30) - 2.20417) < 0.00001);
  CHECK(std::abs(horizontal(0, 30) - 9.225) < 0.00001);
  CHECK(std::abs(horizontal(5, 15) - 4.35833) < 0.00001);
}

TEST_CASE("the same day by its low and high lies above its measured curve") {
  const DayRange day{{2.0}, {18.1}};
  CHECK(single_sine(day, above(5)).degree_days == doctest::Approx(5.6105).epsilon(1e-5));
  CHECK(single_triangle(day, above(5)).degree_days ==
        doctest::Approx(5.3295).epsilon(1e-5));
  CHECK(average_method_1(day, above(5)).degree_days == doctest::Approx(5.05));
  CHECK(average_method_2(day, above(5)).degree_days == doctest::Approx(6.55));
}

TEST_CASE("an hour above the upper threshold counts as its cut-off says") {
  const auto hour = [](Milli mean, CutOff cut_off) {
    return degree_hours(mean, between(10, 30, cut_off));
  };
  for (const CutOff cut_off : kCutOffs) {
    CHECK(hour(9'999, cut_off) == 0);
    CHECK(hour(10'001, cut_off) == 1);
    CHECK(hour(30'000, cut_off) == 20'000);
  }
  CHECK(hour(34'000, CutOff::kHorizontal) == 20'000);
  CHECK(hour(34'000, CutOff::kIntermediate) == 16'000);
  CHECK(hour(34'000, CutOff::kVertical) == 0);
  CHECK(hour(51'000, CutOff::kIntermediate) == 0);
}

TEST_CASE("degree hours add up to the same whole number wherever they are split") {
  const std::span<const double> day = kSpringDay;
  const Milli whole = summed(day, above(5));
  for (std::size_t split = 0; split <= day.size(); ++split) {
    CHECK(summed(day.first(split), above(5)) + summed(day.subspan(split), above(5)) ==
          whole);
  }
}

TEST_CASE("a higher base never gives more degree days, in any way of counting") {
  for (const DayRange& day : many_days()) {
    for (double base = -5; base < 25; base += 2.5) {
      const double next = base + 2.5;
      for (const CutOff cut_off : kCutOffs) {
        const WarmthLimits lower = between(base, 30, cut_off);
        const WarmthLimits higher = between(next, 30, cut_off);
        CHECK(single_sine(day, lower).degree_days + kExact >=
              single_sine(day, higher).degree_days);
        CHECK(single_triangle(day, lower).degree_days + kExact >=
              single_triangle(day, higher).degree_days);
        CHECK(degree_hours(to_milli(day.high.degrees), lower) >=
              degree_hours(to_milli(day.high.degrees), higher));
      }
      CHECK(average_method_1(day, above(base)) >= average_method_1(day, above(next)));
      CHECK(average_method_2(day, above(base)) >= average_method_2(day, above(next)));
    }
  }
}

TEST_CASE("without an upper threshold method 1 is the least of the ways") {
  for (const DayRange& day : many_days()) {
    const double least = average_method_1(day, above(7)).degree_days - kExact;
    CHECK(single_sine(day, above(7)).degree_days >= least);
    CHECK(single_triangle(day, above(7)).degree_days >= least);
    CHECK(average_method_2(day, above(7)).degree_days >= least);
  }
}

TEST_CASE("all ways agree on a day that stays between the thresholds") {
  for (const CutOff cut_off : kCutOffs) {
    const WarmthLimits limits = between(5, 30, cut_off);
    const DayRange day{{8.25}, {21.75}};
    CHECK(average_method_1(day, limits).degree_days == doctest::Approx(10));
    CHECK(average_method_2(day, limits).degree_days == doctest::Approx(10));
    CHECK(single_sine(day, limits).degree_days == doctest::Approx(10));
    CHECK(single_triangle(day, limits).degree_days == doctest::Approx(10));
    CHECK(sampled_sine(day, limits, 24) == doctest::Approx(10).epsilon(1e-4));
  }
}

TEST_CASE(
    "a vertical and an intermediate cut-off never give more than a horizontal one") {
  for (const DayRange& day : many_days()) {
    const auto all = [&](auto way) {
      const double horizontal =
          way(day, between(10, 28, CutOff::kHorizontal)).degree_days + kExact;
      CHECK(way(day, between(10, 28, CutOff::kIntermediate)).degree_days <= horizontal);
      CHECK(way(day, between(10, 28, CutOff::kVertical)).degree_days <= horizontal);
      CHECK(way(day, between(10, 28, CutOff::kVertical)).degree_days >= -kExact);
    };
    all(single_sine);
    all(single_triangle);
  }
}

TEST_CASE("the single sine is what the measured curve of a sinusoid tends to") {
  for (const CutOff cut_off : kCutOffs) {
    for (const DayRange& day : {DayRange{{4}, {16}}, DayRange{{8}, {34}}}) {
      const WarmthLimits limits = between(10, 30, cut_off);
      const double sine = single_sine(day, limits).degree_days;
      // A vertical cut-off is a step of upper - base: one sample to either side of it
      // tells no better than the step by the number of samples.
      const double step = cut_off == CutOff::kVertical ? 2 * 20.0 : 0;
      CHECK(std::abs(sampled_sine(day, limits, 24) - sine) < 0.05 + step / 24);
      CHECK(std::abs(sampled_sine(day, limits, 1'440) - sine) < 0.001 + step / 1'440);
      CHECK(std::abs(sampled_sine(day, limits, 86'400) - sine) < 0.0005 + step / 86'400);
    }
  }
}

namespace {

// The fields of a line whose fields may stand in quotes.
std::vector<std::string> fields_of(const std::string& line) {
  std::vector<std::string> fields(1);
  bool quoted = false;
  for (const char c : line) {
    if (c == '"') {
      quoted = !quoted;
    } else if (c == ',' && !quoted) {
      fields.emplace_back();
    } else {
      fields.back() += c;
    }
  }
  return fields;
}

// Of a row of 03_degree_days.csv: method, cut-off, low, high, base, upper.
double by_method(const std::vector<std::string>& row) {
  const std::string& method = row[1];
  WarmthLimits limits = above(std::stod(row[5]));
  if (!row[6].empty()) limits.upper = Celsius{std::stod(row[6])};
  if (row[2] == "intermediate") limits.cut_off = CutOff::kIntermediate;
  if (row[2] == "vertical") limits.cut_off = CutOff::kVertical;
  const Celsius high{std::stod(row[4])};
  if (method.starts_with("cucumber")) {
    return reduced_ceiling(high, limits.base, *limits.upper).degree_days;
  }
  const DayRange day{{std::stod(row[3])}, high};
  if (method == "single sine") return single_sine(day, limits).degree_days;
  if (method == "single triangle") return single_triangle(day, limits).degree_days;
  if (method.starts_with("GDD method 1"))
    return average_method_1(day, limits).degree_days;
  if (method.starts_with("GDD method 2"))
    return average_method_2(day, limits).degree_days;
  const bool is_below = method.find("BELOW") != std::string::npos;
  return (is_below ? four_case_below : four_case_above)(day, limits.base).degree_days;
}

}  // namespace

TEST_CASE("every row of the shared table of degree days is met") {
  const auto folder = shared_folder();
  if (!folder) {
    MESSAGE("no shared folder: passed over");
    return;
  }
  std::ifstream table(*folder / "reference" / "03_degree_days.csv");
  std::string line;
  std::getline(table, line);
  int rows = 0;
  while (std::getline(table, line)) {
    const std::vector<std::string> row = fields_of(line);
    // The one row without extremes is the Fahrenheit table's, above.
    if (row.size() < 10 || row[4].empty()) continue;
    CAPTURE(line);
    CHECK(std::abs(by_method(row) - std::stod(row[7])) <= std::stod(row[8]));
    ++rows;
  }
  CHECK(rows == 97);
}

TEST_CASE("every case of the shared hourly day is met") {
  const auto folder = shared_folder();
  if (!folder) {
    MESSAGE("no shared folder: passed over");
    return;
  }
  std::ifstream file(*folder / "reference" / "03_degree_days_hourly.json");
  const auto json = nlohmann::json::parse(file);
  const auto hourly = json.at("hourly_c").get<std::vector<double>>();
  CHECK(std::ranges::equal(hourly, kSpringDay));
  for (const auto& expected : json.at("expected")) {
    const WarmthLimits limits =
        between(expected.at("base"), expected.at("upper"), CutOff::kHorizontal);
    CHECK(std::abs(measured(hourly, limits).degree_days -
                   expected.at("degree_days").get<double>()) < 0.00001);
  }
}

}  // namespace rimeward
