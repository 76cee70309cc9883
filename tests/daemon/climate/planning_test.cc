// Planning ahead on days made by formula, where the true date is known.

#include "daemon/climate/planning.h"

#include <cmath>
#include <numbers>
#include <optional>
#include <vector>

#include <doctest/doctest.h>

namespace rimeward {
namespace {

using std::chrono::days;
using std::chrono::sys_days;
using std::chrono::year;

constexpr sys_days kToday{year{2026} / 4 / 12};

// Days of the same warmth up to yesterday.
WarmthByDay steady(double a_day, int count) {
  WarmthByDay history{.first = kToday - days{count}, .days = {}};
  history.days.assign(static_cast<std::size_t>(count), DegreeDays{a_day});
  return history;
}

// 5 + 5 sin(2 pi t / 365.25), t in days after 12 April of the first year, at each day's
// noon: 12 April is the middle of spring.
double sinusoid(double t) {
  return 5 + 5 * std::sin(2 * std::numbers::pi * (t + 0.5) / 365.25);
}

WarmthByDay sinusoidal(int years) {
  const sys_days first{year{2026 - years} / 4 / 12};
  WarmthByDay history{.first = first, .days = {}};
  for (sys_days date = first; date < kToday; date += days{1}) {
    history.days.push_back(
        DegreeDays{sinusoid(static_cast<double>((date - first).count()))});
  }
  return history;
}

// An unsteady but not random course: warm and cool spells of some days.
WarmthByDay uneven(int count) {
  WarmthByDay history{.first = kToday - days{count}, .days = {}};
  for (int i = 0; i < count; ++i) {
    history.days.push_back(
        DegreeDays{6 + 3 * std::sin(i * 0.9) + 2 * std::sin(i * 0.31)});
  }
  return history;
}

bool is_later_or_same(const std::optional<DateSpan>& now,
                      const std::optional<DateSpan>& before) {
  if (!now) return true;  // no longer foreseeable
  if (!before || now->earliest < before->earliest) return false;
  return !now->latest || (before->latest && *now->latest >= *before->latest);
}

void remove(WarmthByDay& history, sys_days from, int count) {
  const auto index = static_cast<std::size_t>((from - history.first).count());
  for (std::size_t i = 0; i < static_cast<std::size_t>(count); ++i) {
    history.days.at(index + i).reset();
  }
}

TEST_CASE("the pace is the mean of the last week and the spread that of three weeks") {
  WarmthByDay history = steady(4, 14);
  for (const double warmth : {6.0, 8.0, 7.0, 9.0, 5.0, 7.0, 7.0})
    history.days.push_back(DegreeDays{warmth});
  history.first -= days{7};
  const auto pace = recent_pace(history, kToday);
  REQUIRE(pace);
  CHECK(pace->a_day.degree_days == doctest::Approx(7));
  CHECK(pace->days == 7);
  // By hand: mean 5, squares 14 of 1 and 1, 9, 4, 16, 0, 4, 4; of 21 values less one.
  CHECK(pace->spread.degree_days == doctest::Approx(std::sqrt(52.0 / 20)));
}

TEST_CASE("days that are not known are left out of the pace") {
  WarmthByDay history = steady(6, 21);
  history.days.back() = DegreeDays{9};
  remove(history, kToday - days{4}, 3);
  const auto pace = recent_pace(history, kToday);
  REQUIRE(pace);
  CHECK(pace->days == 4);
  CHECK(pace->a_day.degree_days == doctest::Approx(6.75));
}

TEST_CASE("two days known of a week are too few for a pace") {
  WarmthByDay history = steady(6, 21);
  remove(history, kToday - days{5}, 5);
  CHECK_FALSE(recent_pace(history, kToday));
  CHECK_FALSE(recent_pace(WarmthByDay{}, kToday));
  CHECK_FALSE(recent_pace(steady(6, 21), kToday + days{5}));
}

TEST_CASE("where nothing remains the date is today") {
  const Pace pace{.a_day = {8}, .spread = {3}, .days = 7};
  const DateSpan today{kToday, kToday};
  CHECK(due_by_pace({0}, pace, kToday) == today);
  CHECK(due_by_pace({-5}, pace, kToday) == today);
  CHECK(due_by_past_years({0}, sinusoidal(3), kToday).span == today);
}

TEST_CASE("without warmth lately nothing is foreseeable") {
  CHECK_FALSE(due_by_pace({10}, {.a_day = {0}, .spread = {0}, .days = 7}, kToday));
  // However unsteady the weeks before were.
  CHECK_FALSE(due_by_pace({10}, {.a_day = {0}, .spread = {2}, .days = 7}, kToday));
}

TEST_CASE("a slow pace foresees no end, and a very slow one nothing") {
  const auto open = due_by_pace({100}, {.a_day = {1}, .spread = {2}, .days = 7}, kToday);
  REQUIRE(open);
  CHECK_FALSE(open->latest);
  CHECK_FALSE(due_by_pace({100}, {.a_day = {0.2}, .spread = {0}, .days = 7}, kToday));
}

TEST_CASE("a steady pace gives its date, a tenth of the wait to either side") {
  const Pace pace{.a_day = {5}, .spread = {0}, .days = 7};
  // 200 at 5 a day: 40 days.
  CHECK(due_by_pace({200}, pace, kToday) ==
        DateSpan{kToday + days{36}, kToday + days{44}});
  CHECK(due_by_pace({5}, pace, kToday) == DateSpan{kToday, kToday + days{2}});
}

TEST_CASE("an unsteady pace gives the span of eight in ten") {
  const auto span = due_by_pace({100}, {.a_day = {10}, .spread = {3}, .days = 7}, kToday);
  REQUIRE(span);
  // By hand: 10 n + 1.2816 * 3 * sqrt(3 n (1 + n / 7)):
  // at 6: 60 + 22.2 = 82.2, at 7: 70 + 24.9 = 94.9, at 8: 80 + 27.6 = 107.6.
  CHECK(span->earliest == kToday + days{8});
  // At 14: 140 - 43.2 = 96.8, at 15: 150 - 45.7 = 104.3.
  CHECK(span->latest == kToday + days{15});
}

TEST_CASE("more that remains is never met earlier") {
  const WarmthByDay history = uneven(4 * 366);
  const auto pace = recent_pace(history, kToday);
  REQUIRE(pace);
  auto by_pace = due_by_pace({0}, *pace, kToday);
  auto by_years = due_by_past_years({0}, history, kToday).span;
  for (double remaining = 0.5; remaining < 2600; remaining += 3.7) {
    CAPTURE(remaining);
    const auto next_by_pace = due_by_pace({remaining}, *pace, kToday);
    const auto next_by_years = due_by_past_years({remaining}, history, kToday).span;
    REQUIRE(is_later_or_same(next_by_pace, by_pace));
    REQUIRE(is_later_or_same(next_by_years, by_years));
    by_pace = next_by_pace;
    by_years = next_by_years;
  }
}

TEST_CASE("no answer is a single date unless nothing remains") {
  const WarmthByDay history = sinusoidal(3);
  for (const double remaining : {0.1, 1.0, 4.0, 17.0, 60.0, 300.0, 900.0}) {
    CAPTURE(remaining);
    const auto by_pace =
        due_by_pace({remaining}, {.a_day = {7}, .spread = {0}, .days = 7}, kToday);
    const auto by_years = due_by_past_years({remaining}, history, kToday).span;
    REQUIRE(by_pace);
    REQUIRE(by_years);
    CHECK(by_pace->earliest < by_pace->latest);
    CHECK(by_years->earliest < by_years->latest);
  }
}

TEST_CASE("years of a sinusoid give the date on which its integral comes to the sum") {
  const WarmthByDay history = sinusoidal(3);
  for (const double wait : {20.0, 60.0, 120.0, 200.0}) {
    CAPTURE(wait);
    // The integral of 5 + 5 sin(2 pi t / 365.25) from the end of today to the end of the
    // day `wait` days after, less half a day's warmth.
    const double turn = 2 * std::numbers::pi / 365.25;
    const double whole =
        5 * wait + 5 / turn * (std::cos(turn) - std::cos(turn * (wait + 1)));
    const auto past = due_by_past_years({whole - 2.5}, history, kToday);
    CHECK(past.years == 3);
    REQUIRE(past.span);
    REQUIRE(past.span->latest);
    const auto middle =
        (past.span->earliest - kToday + (*past.span->latest - kToday)) / 2.0;
    CHECK(std::chrono::duration<double, days::period>(middle).count() ==
          doctest::Approx(wait).epsilon(0.02));
    CHECK(past.span->earliest <= kToday + days{static_cast<int>(wait)});
    CHECK(*past.span->latest >= kToday + days{static_cast<int>(wait)});
  }
}

TEST_CASE("the span of past years reaches from the earliest of them to the latest") {
  // The year before last 10 a day, last year 5 a day.
  WarmthByDay history{.first = sys_days{year{2024} / 4 / 12}, .days = {}};
  for (sys_days date = history.first; date < kToday; date += days{1}) {
    history.days.push_back(DegreeDays{date < sys_days{year{2025} / 4 / 12} ? 10.0 : 5.0});
  }
  const auto past = due_by_past_years({200}, history, kToday);
  CHECK(past.years == 2);
  CHECK(past.span == DateSpan{kToday + days{20}, kToday + days{40}});
}

TEST_CASE("a short gap in a past year is filled and a long one silences it") {
  WarmthByDay history = steady(5, 365);
  remove(history, kToday - days{350}, 3);
  const auto filled = due_by_past_years({200}, history, kToday);
  CHECK(filled.years == 1);
  CHECK(filled.span == DateSpan{kToday + days{36}, kToday + days{44}});
  remove(history, kToday - days{347}, 1);
  const auto silent = due_by_past_years({200}, history, kToday);
  CHECK(silent.years == 0);
  CHECK_FALSE(silent.span);
}

TEST_CASE("a year that has not gone round tells only what it came to") {
  const WarmthByDay history = steady(5, 365);
  CHECK(due_by_past_years({1500}, history, kToday).years == 1);
  // Of the whole year that lies behind today it is known that it did not come to it.
  const auto never = due_by_past_years({3000}, history, kToday);
  CHECK(never.years == 1);
  CHECK_FALSE(never.span);
  CHECK(due_by_past_years({10}, steady(5, 200), kToday).years == 0);
}

TEST_CASE("one year that never came to it leaves the end open") {
  WarmthByDay history{.first = sys_days{year{2024} / 4 / 12}, .days = {}};
  for (sys_days date = history.first; date < kToday; date += days{1}) {
    history.days.push_back(DegreeDays{date < sys_days{year{2025} / 4 / 12} ? 10.0 : 0.1});
  }
  const auto past = due_by_past_years({200}, history, kToday);
  CHECK(past.years == 2);
  REQUIRE(past.span);
  CHECK(past.span->earliest == kToday + days{20});
  CHECK_FALSE(past.span->latest);
}

TEST_CASE("on a leap day past years are looked at from 28 February") {
  const sys_days leap{year{2024} / 2 / 29};
  WarmthByDay history{.first = sys_days{year{2023} / 2 / 28}, .days = {}};
  for (sys_days date = history.first; date < leap; date += days{1})
    history.days.push_back(DegreeDays{5});
  CHECK(due_by_past_years({200}, history, leap).years == 1);
  history.first += days{1};
  history.days.pop_back();
  CHECK(due_by_past_years({200}, history, leap).years == 0);
}

TEST_CASE("two spans unite to the earlier beginning and the later end") {
  const DateSpan one{kToday + days{5}, kToday + days{9}};
  const DateSpan other{kToday + days{7}, kToday + days{14}};
  CHECK(united(one, other) == DateSpan{kToday + days{5}, kToday + days{14}});
  CHECK(united(one, std::nullopt) == one);
  CHECK(united(std::nullopt, other) == other);
  CHECK_FALSE(united(std::nullopt, std::nullopt));
  CHECK(united(one, DateSpan{kToday, {}}) == DateSpan{kToday, {}});
}

}  // namespace
}  // namespace rimeward
