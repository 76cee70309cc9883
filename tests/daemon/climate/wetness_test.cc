#include "daemon/climate/wetness.h"

#include <vector>

#include <doctest/doctest.h>

#include "daemon/climate/humidity.h"
#include "tests/support/hochfeld.h"

using namespace rimeward;
using namespace rimeward::testing;
using namespace std::chrono_literals;

namespace {

const DarkHours kApril{.sunset = at("2026-04-12T18:03:00Z"),
                       .sunrise = at("2026-04-13T04:38:00Z")};

void fill(HourBook& book, Instant from, int hours, double air, double humidity) {
  for (int i = 0; i < hours; ++i) {
    const Instant time = from + std::chrono::hours{i};
    book.add(Channel::kAirTemperature, 0, time, to_milli(air));
    book.add(Channel::kHumidity, 0, time, to_milli(humidity));
  }
}

// A day of 24 hours from `begins` on with this low, somewhere in it, and so many damp
// hours, some in a row and some not.
void add_day(HourBook& book, Instant begins, const BlightDay& day) {
  for (int i = 0; i < 24; ++i) {
    const Instant hour = begins + std::chrono::hours{i};
    const double air = i == 19 ? day.low.degrees : day.low.degrees + 3;
    // Every other hour first, then those between.
    const int order = i % 2 == 0 ? i / 2 : 12 + i / 2;
    book.add(Channel::kAirTemperature, 0, hour, to_milli(air));
    book.add(Channel::kHumidity, 0, hour, order < day.damp_hours ? 90'000 : 89'900);
  }
}

// Of two days as hours, from 09:00 by the clock in Hochfeld.
bool hours_are_blight_period(const BlightDay& first, const BlightDay& second,
                             const BlightLimits& limits) {
  HourBook book;
  const Instant begins = at("2026-07-09T07:00:00Z");
  add_day(book, begins, first);
  add_day(book, begins + 24h, second);
  return is_blight_period(blight_day(book, begins, begins + 24h, limits.humidity),
                          blight_day(book, begins + 24h, begins + 48h, limits.humidity),
                          limits);
}

// Which days end a period, from 0.
std::vector<int> period_ends(const std::vector<BlightDay>& days,
                             const BlightLimits& limits) {
  std::vector<int> ends;
  for (std::size_t i = 1; i < days.size(); ++i) {
    const bool by_days = is_blight_period(days[i - 1], days[i], limits);
    CHECK(hours_are_blight_period(days[i - 1], days[i], limits) == by_days);
    if (by_days) ends.push_back(static_cast<int>(i));
  }
  return ends;
}

BlightDay day(double low, int damp_hours) {
  return {.low = Celsius{low}, .damp_hours = damp_hours};
}

}  // namespace

// The criteria: AHDB project 11120018 (James Hutton Institute, 2014-2017). Smith (1956),
// Plant Pathology 5, 83-87, has the same days with 11 hours; the sequences of days are
// worked out from both rules.
TEST_CASE(
    "blight periods are those of the Hutton criteria, and of Smith with his hours") {
  struct Row {
    const char* name;
    std::vector<BlightDay> days;
    std::vector<int> hutton;
    std::vector<int> smith;
  };
  const Row rows[] = {
      {"both", {day(11, 12), day(10, 11)}, {1}, {1}},
      {"Hutton only", {day(10, 6), day(12, 9)}, {1}, {}},
      {"too cold by 0.1", {day(9.9, 12), day(12, 12), day(12, 5)}, {}, {}},
      {"5 hours", {day(12, 6), day(12, 5), day(12, 6), day(12, 6)}, {3}, {}},
      {"three days", {day(10, 6), day(10, 6), day(10, 6)}, {1, 2}, {}},
      {"never two", {day(12, 10), day(8, 10), day(12, 10)}, {}, {}},
      {"exact edges", {day(10, 6), day(10, 6)}, {1}, {}},
      {"Smith's near miss", {day(11, 10), day(11, 11)}, {1}, {}},
  };
  BlightLimits smith;
  smith.for_hours = 11h;
  for (const Row& row : rows) {
    CAPTURE(row.name);
    CHECK(period_ends(row.days, BlightLimits{}) == row.hutton);
    CHECK(period_ends(row.days, smith) == row.smith);
  }
}

TEST_CASE("a day that is not known begins and ends no blight period") {
  CHECK_FALSE(is_blight_period(std::nullopt, day(12, 12), {}));
  CHECK_FALSE(is_blight_period(day(12, 12), std::nullopt, {}));
}

TEST_CASE(
    "a blight day is 25 hours when clocks go back, and needs all but bridged ones") {
  const Instant begins = berlin().at(std::chrono::year{2026} / 10 / 24, 9h);
  const Instant ends = berlin().at(std::chrono::year{2026} / 10 / 25, 9h);
  REQUIRE(ends - begins == 25h);
  HourBook book;
  fill(book, begins, 25, 12, 95);
  CHECK(blight_day(book, begins, ends, RelativeHumidity{90})->damp_hours == 25);
  CHECK_FALSE(blight_day(book, begins, ends + 1h, RelativeHumidity{90}));
  CHECK_FALSE(blight_day(book, begins - 1h, ends, RelativeHumidity{90}));
  HourBook gap;
  fill(gap, begins, 10, 12, 95);
  fill(gap, begins + 16h, 9, 12, 95);
  CHECK(blight_day(gap, begins, ends, RelativeHumidity{90})->damp_hours == 25);
  HourBook long_gap;
  fill(long_gap, begins, 9, 12, 95);
  fill(long_gap, begins + 16h, 9, 12, 95);
  CHECK_FALSE(blight_day(long_gap, begins, ends, RelativeHumidity{90}));
}

TEST_CASE("an hour without humidity is not damp, but has its temperature") {
  const Instant begins = at("2026-07-09T07:00:00Z");
  HourBook book;
  fill(book, begins, 4, 12, 95);
  for (int i = 4; i < 24; ++i) {
    book.add(Channel::kAirTemperature, 0, begins + std::chrono::hours{i}, 11'000);
  }
  const auto found = blight_day(book, begins, begins + 24h, RelativeHumidity{90});
  REQUIRE(found);
  CHECK(found->low == Celsius{11});
  CHECK(found->damp_hours == 4);
}

// Psychrometry; a greenhouse handbook's rule that air of 60 F and 95 % condenses on what
// is 1 F cooler is rough: it takes 1.4 F. To 0.1 degrees, as the figures are printed.
TEST_CASE("water condenses on surfaces at the dew point and below") {
  struct Row {
    double air;
    double humidity;
    double dew_point;
  };
  for (const Row& row : {Row{15.56, 95, 14.76}, Row{10, 85, 7.59}, Row{20, 90, 18.31}}) {
    CAPTURE(row.air);
    const Kilopascals vapour =
        vapour_pressure(Celsius{row.air}, RelativeHumidity{row.humidity});
    CHECK(condenses(vapour, Celsius{row.dew_point - 0.1}));
    CHECK_FALSE(condenses(vapour, Celsius{row.dew_point + 0.1}));
    CHECK(dew_point(vapour)->degrees == doctest::Approx(row.dew_point).epsilon(0.005));
  }
  const Kilopascals vapour = vapour_pressure(Celsius{15.56}, RelativeHumidity{95});
  CHECK_FALSE(condenses(vapour, Celsius{15.56 - 1.0 / 1.8}));
  CHECK(condenses(vapour, Celsius{15.56 - 1.5 / 1.8}));
}

TEST_CASE("leaves are a degree below the air at night, glass midway to outside") {
  CHECK(leaf_at_night(Celsius{12}) == Celsius{11});
  CHECK(glass_at_night(Celsius{12}, Celsius{4}) == Celsius{8});
  CHECK(glass_at_night(Celsius{3}, Celsius{5}) == Celsius{4});
}

TEST_CASE("hours are dark by their middle, also in the nights before and after") {
  for (const auto days : {-48h, -24h, 0h, 24h, 48h}) {
    CHECK_FALSE(is_dark(at("2026-04-12T17:00:00Z") + days, kApril));
    CHECK(is_dark(at("2026-04-12T18:00:00Z") + days, kApril));
    CHECK(is_dark(at("2026-04-13T04:00:00Z") + days, kApril));
    CHECK_FALSE(is_dark(at("2026-04-13T05:00:00Z") + days, kApril));
    CHECK_FALSE(is_dark(at("2026-04-13T12:00:00Z") + days, kApril));
  }
}

TEST_CASE("a run of damp hours ends with the hour asked for and begins after a dry one") {
  HourBook book;
  fill(book, at("2026-04-12T20:00:00Z"), 3, 12, 95);
  fill(book, at("2026-04-12T23:00:00Z"), 1, 12, 80);
  fill(book, at("2026-04-13T00:00:00Z"), 4, 12, 95);
  const DampPlace place{.inside = book};
  CHECK(damp_run(place, {}, at("2026-04-13T03:00:00Z")) ==
        DampRun{.ends = at("2026-04-13T04:00:00Z"), .hours = 4});
  CHECK(damp_run(place, {}, at("2026-04-13T01:00:00Z")).hours == 2);
  CHECK(damp_run(place, {}, at("2026-04-12T23:00:00Z")).hours == 0);
  CHECK(damp_run(place, {}, at("2026-04-12T22:00:00Z")).hours == 3);
  CHECK(damp_run(place, {}, at("2026-04-13T04:00:00Z")).hours == 0);  // not known
}

TEST_CASE("leaves count as wet at night alone, and the glass where outside is known") {
  HourBook inside;
  fill(inside, at("2026-04-12T12:00:00Z"), 12, 14, 82);  // dew point 11.0
  HourBook outside;
  fill(outside, at("2026-04-12T12:00:00Z"), 10, 6, 95);
  const Instant evening = at("2026-04-12T21:00:00Z");
  CHECK(damp_run({.inside = inside, .night = kApril}, {}, evening).hours == 0);
  const DampRun run =
      damp_run({.inside = inside, .outside = &outside, .night = kApril}, {}, evening);
  CHECK(run.hours == 4);  // from 18:00, which is dark from 18:03 on
  CHECK(run.condensing == 4);
  CHECK(damp_run({.inside = inside, .outside = &outside}, {}, evening).hours == 0);
  // From 22:00 on nothing is known of outside.
  CHECK(
      damp_run({.inside = inside, .outside = &outside, .night = kApril}, {}, evening + 1h)
          .hours == 0);
  HourBook humid;
  fill(humid, at("2026-04-12T12:00:00Z"), 12, 14, 96);  // dew point 13.4, leaves at 13
  const DampRun wet = damp_run({.inside = humid, .night = kApril}, {}, evening);
  CHECK(wet.hours == 10);
  CHECK(wet.condensing == 4);
}

TEST_CASE("water that condenses in the cold grows no grey mould") {
  HourBook book;
  fill(book, at("2026-04-12T18:00:00Z"), 8, 9.9, 100);
  CHECK(
      damp_run({.inside = book, .night = kApril}, {}, at("2026-04-13T01:00:00Z")).hours ==
      0);
}

TEST_CASE("a run is followed back for two days and no longer") {
  HourBook book;
  fill(book, at("2026-04-10T00:00:00Z"), 72, 12, 95);
  CHECK(damp_run({.inside = book}, {}, at("2026-04-12T23:00:00Z")).hours ==
        kLongestDampRun);
}
