#include "daemon/climate/night_course.h"

#include <array>
#include <cmath>
#include <random>

#include <doctest/doctest.h>

namespace rimeward {
namespace {

using std::chrono::hours;
using std::chrono::minutes;

constexpr Instant kSunset{hours{474'000}};
constexpr SunTime kSunrise = kSunset + hours{12};
constexpr Instant kMidnight = kSunset + hours{6};  // of this night

// Of a clear night at an invented place: 12 hours, 8 degrees at its beginning.
Outlook issued_at_sunset() {
  Outlook outlook;
  outlook.moment = Moment::kDusk;
  outlook.issued_at = kSunset;
  outlook.sunset = kSunset;
  outlook.sunrise = kSunrise;
  outlook.air = {8.0};
  outlook.low = {-2.0};
  outlook.spread_below = {2.0};
  outlook.spread_above = {1.5};
  outlook.low10 = outlook.low - range_side(outlook.spread_below);
  outlook.low90 = outlook.low + range_side(outlook.spread_above);
  return outlook;
}

Outlook issued_by_day() {
  Outlook outlook = issued_at_sunset();
  outlook.moment = Moment::kAfternoon;
  outlook.issued_at = kSunset - hours{4};
  outlook.air = {14.0};
  return outlook;
}

// A place that has been falling all the time, so that the newest reading is the lowest.
ReadSince falling(Instant at, double air) {
  return {at, {air}, Celsius{air}, at};
}

Celsius expected_at(const Outlook& issued, SunTime at) {
  return air_at(course_of(issued, std::nullopt), at);
}

bool within(Celsius a, double b) {
  return std::abs(a.degrees - b) < 1e-9;
}

}  // namespace

TEST_CASE("at its issue a course is the issued outlook to the last bit") {
  const Outlook issued = issued_at_sunset();
  for (const auto& read :
       {std::optional<ReadSince>{}, std::optional{falling(kSunset, 7.0)},
        std::optional{falling(kSunset - minutes{20}, 9.0)}}) {
    const NightCourse course = course_of(issued, read);
    CHECK(course.outlook == issued);
    CHECK(course.as_of == issued.issued_at);
    CHECK(course.air == issued.air);
    CHECK(course.coming_low == issued.low);
    CHECK(course.low_at == kSunrise);
  }
}

// 1 - (1 - share)^1.75, worked for own inputs: 1 - 0.75^1.75 = 0.395554, 1 - 0.5^1.75 =
// 0.702698, 1 - 0.25^1.75 = 0.911612.
TEST_CASE(
    "the fall is two fifths done after a quarter of the night, seven tenths at half") {
  const Outlook issued = issued_at_sunset();
  CHECK(std::abs(expected_at(issued, kSunset + hours{3}).degrees - 4.04446) < 1e-4);
  CHECK(std::abs(expected_at(issued, kSunset + hours{6}).degrees - 0.97302) < 1e-4);
  CHECK(std::abs(expected_at(issued, kSunset + hours{9}).degrees + 1.11612) < 1e-4);
  CHECK(within(expected_at(issued, kSunrise), -2.0));
}

// Four hours of 0.35 are 1.4 of 2.4 in all: three of them 0.4375 of the fall.
TEST_CASE("by day the air falls evenly towards the evening's temperature") {
  const Outlook issued = issued_by_day();
  CHECK(within(expected_at(issued, kSunset - hours{1}), 14.0 - 16.0 * 1.05 / 2.4));
  CHECK(within(expected_at(issued, kSunset), 14.0 - 16.0 * 1.4 / 2.4));
  CHECK(within(expected_at(issued, kSunrise), -2.0));
}

TEST_CASE("a night that goes as expected keeps its low, and the range narrows") {
  const Outlook issued = issued_at_sunset();
  double width = 100.0;
  for (int hour = 1; hour < 12; ++hour) {
    const Instant at = kSunset + hours{hour};
    const NightCourse course =
        course_of(issued, falling(at, expected_at(issued, at).degrees));
    CHECK(within(course.outlook.low, -2.0));
    CHECK(within(course.coming_low, -2.0));
    CHECK(course.low_at == kSunrise);
    const Kelvins range = course.outlook.low90 - course.outlook.low10;
    CHECK(range.degrees < width);
    width = range.degrees;
    // Of 13 hours until an hour after sunrise.
    const double left = std::sqrt((13.0 - hour) / 13.0);
    CHECK(course.outlook.spread_above.degrees == doctest::Approx(1.5 * left));
    CHECK(course.outlook.spread_below.degrees == doctest::Approx(2.0 * left));
  }
}

TEST_CASE(
    "what the air is off its course stays: by day little, at sunset half, later all") {
  const Outlook issued = issued_by_day();
  struct Share {
    Instant at;
    double stays;
  };
  // 0.3 of a night of 12 hours are 3.6 hours.
  for (const auto& [at, stays] :
       {Share{kSunset - minutes{239}, 0.0}, Share{kSunset - minutes{216}, 0.0},
        Share{kSunset - minutes{108}, 0.25}, Share{kSunset, 0.5},
        Share{kSunset + minutes{108}, 0.75}, Share{kSunset + minutes{216}, 1.0},
        Share{kMidnight, 1.0}, Share{kSunset + hours{12}, 1.0}}) {
    CAPTURE(stays);
    for (const double off : {-1.5, 1.5}) {
      const double air = expected_at(issued, at).degrees + off;
      const NightCourse course =
          course_of(issued, ReadSince{at, {air}, std::nullopt, std::nullopt});
      CHECK(within(course.coming_low, -2.0 + stays * off));
    }
  }
}

TEST_CASE("a reading moves the low by no more than itself, however noisy or late") {
  const Outlook issued = issued_at_sunset();
  for (int minute = 1; minute < 14 * 60; minute += 7) {
    const Instant at = kSunset + minutes{minute};
    CAPTURE(minute);
    for (const double noise : {-0.5, -0.1, 0.1, 0.5}) {
      const ReadSince read{at, {3.0}, Celsius{1.0}, kSunset};
      ReadSince noisy = read;
      noisy.air = {3.0 + noise};
      const double moved =
          (course_of(issued, noisy).outlook.low - course_of(issued, read).outlook.low)
              .degrees;
      CHECK(std::abs(moved) <= std::abs(noise) + 1e-9);
    }
  }
}

TEST_CASE("no course contradicts what was read") {
  std::mt19937 random(3);
  const auto drawn = [&random](double from, double to) {
    return from + (to - from) * static_cast<double>(random()) / 4294967296.0;
  };
  for (int i = 0; i < 5'000; ++i) {
    Outlook issued = issued_at_sunset();
    issued.issued_at = kSunset + hours{2} * drawn(-2.0, 4.0);
    issued.low = {drawn(-6.0, 8.0)};
    if (issued.issued_at > kSunset) issued.running_low = Celsius{drawn(8.0, 9.0)};
    const Instant at = whole_second(issued.issued_at + hours{10} * drawn(0.01, 1.4));
    const double air = drawn(-8.0, 14.0);
    ReadSince read{at, {air}, std::nullopt, std::nullopt};
    if (at > kSunset) {
      read.lowest = Celsius{air - drawn(0.0, 4.0)};
      read.lowest_at = kSunset + minutes{1};
    }
    const NightCourse course = course_of(issued, read);
    const Outlook& now = course.outlook;
    CAPTURE(i);
    CHECK(now.low10 <= now.low);
    CHECK(now.low <= now.low90);
    CHECK(now.low <= course.air);
    CHECK(now.low <= course.coming_low);
    if (read.lowest) {
      CHECK(now.low90 <= *read.lowest);
      CHECK(*now.running_low <= *read.lowest);
      CHECK(odds_below(now, *read.lowest) == Odds{1.0});
    }
    const double odds = odds_below(now, now.low - Kelvins{0.01}).value;
    CHECK(odds > 0.0);
    CHECK(odds < 0.5);
    CHECK(course.low_at <= course.coming_at);
  }
}

TEST_CASE("a low that is over has its own hour, and the rest of the night another") {
  const Outlook issued = issued_at_sunset();
  // A cold hour in the evening; then cloud.
  const Instant cold = kSunset + hours{3};
  const NightCourse course =
      course_of(issued, ReadSince{kMidnight, {6.0}, Celsius{1.5}, cold});
  CHECK(course.outlook.low == Celsius{1.5});
  CHECK(course.low_at == cold);
  CHECK(course.coming_low > Celsius{1.5});
  CHECK(course.coming_low < Celsius{6.0});
  CHECK(course.coming_at == kSunrise);
  CHECK_FALSE(crossing(course, {1.5}));
  // The odds of less are a tenth where the range of what is coming ends.
  CHECK(odds_below(course.outlook, course.outlook.low10).value ==
        doctest::Approx(0.1).epsilon(0.001));
}

TEST_CASE("from an hour after sunrise on the low is the lowest that was read") {
  const Outlook issued = issued_at_sunset();
  const Instant lowest_at = kSunset + hours{11};
  for (const int minute : {60, 90, 119}) {
    const Instant at = kSunset + hours{12} + minutes{minute};
    const NightCourse course =
        course_of(issued, ReadSince{at, {4.0}, {{-1.0}}, lowest_at});
    CHECK(course.outlook.low == Celsius{-1.0});
    CHECK(course.outlook.low90 == Celsius{-1.0});
    CHECK(course.outlook.low10 > Celsius{-1.1});
    CHECK(course.low_at == lowest_at);
    CHECK(odds_below(course.outlook, {-1.3}).value < 0.001);
    CHECK_FALSE(crossing(course, {0.0}));
  }
}

TEST_CASE("the course goes down to the low at sunrise, and then up") {
  for (const Outlook& issued : {issued_by_day(), issued_at_sunset()}) {
    for (const auto& read :
         {std::optional<ReadSince>{}, std::optional{falling(kMidnight, 2.5)}}) {
      const NightCourse course = course_of(issued, read);
      CHECK(air_at(course, course.as_of - hours{1}) == course.air);
      Celsius before = course.air;
      for (SunTime at = course.as_of + minutes{10}; at < kSunrise; at += minutes{10}) {
        const Celsius air = air_at(course, at);
        CHECK(air < before);
        before = air;
      }
      CHECK(within(air_at(course, kSunrise), course.coming_low.degrees));
      CHECK(air_at(course, kSunrise + hours{1}) > course.coming_low + Kelvins{1.0});
      CHECK(air_at(course, kSunrise + hours{9}) == air_at(course, kSunrise + hours{2}));
    }
  }
}

TEST_CASE("after sunrise the course goes up from the newest reading") {
  const Instant at = kSunset + hours{13};
  const NightCourse course =
      course_of(issued_at_sunset(), ReadSince{at, {1.0}, {{-1.0}}, kMidnight});
  CHECK(air_at(course, at) == Celsius{1.0});
  CHECK(air_at(course, at + minutes{30}) > Celsius{1.0});
  CHECK(air_at(course, at + hours{1}) == air_at(course, at + hours{5}));
}

TEST_CASE("the crossing is where the course has the threshold") {
  for (const Outlook& issued : {issued_by_day(), issued_at_sunset()}) {
    const NightCourse course = course_of(issued, std::nullopt);
    for (const double threshold : {7.9, 6.0, 3.0, 0.0, -1.9, -2.0}) {
      CAPTURE(threshold);
      const auto at = crossing(course, {threshold});
      REQUIRE(at);
      CHECK(std::abs(air_at(course, *at).degrees - threshold) < 1e-6);
    }
    CHECK_FALSE(crossing(course, {-2.001}));
    CHECK(crossing(course, {14.0}) == course.as_of);
    CHECK(crossing(course, {20.0}) == course.as_of);
  }
}

TEST_CASE("the chart's points stand at whole half hours until two hours after sunrise") {
  const NightCourse course =
      course_of(issued_at_sunset(), falling(kMidnight + minutes{7}, 1.0));
  const auto points = half_hours(course);
  REQUIRE(points.size() == 16);
  CHECK(points.front().at == kMidnight + minutes{30});
  CHECK(points.back().at == kSunset + hours{14});
  for (const CoursePoint& point : points) {
    CHECK(point.at.time_since_epoch() % minutes{30} == minutes{0});
    CHECK(point.air == air_at(course, point.at));
  }
  const auto all = half_hours(course_of(issued_at_sunset(), std::nullopt));
  REQUIRE(all.size() == 29);
  CHECK(all.front().at == kSunset);
  CHECK(all.front().air == Celsius{8.0});
}

}  // namespace rimeward
