#include "daemon/climate/coverage.h"

#include <set>
#include <vector>

#include <doctest/doctest.h>

#include "daemon/base/zone.h"
#include "tests/support/hochfeld.h"

namespace rimeward {
namespace {

using std::chrono::hours;
using std::chrono::sys_days;
using testing::at;

const Instant kBegins = at("2026-04-12T07:00:00Z");

// A day of 24 hours without those that are told, counted from its beginning.
HoursHeld day_without(const std::set<int>& missing) {
  std::vector<Instant> held;
  for (int hour = 0; hour < 24; ++hour) {
    if (!missing.contains(hour)) held.push_back(kBegins + hours{hour});
  }
  return hours_held(held, kBegins, kBegins + hours{24});
}

std::vector<sys_days> march(const std::vector<unsigned>& days) {
  std::vector<sys_days> dates;
  dates.reserve(days.size());
  for (const unsigned day : days) {
    dates.emplace_back(std::chrono::year{2026} / std::chrono::March /
                       std::chrono::day{day});
  }
  return dates;
}

}  // namespace

TEST_CASE("the hours held of a day are counted, and its longest gap") {
  CHECK(day_without({}) == HoursHeld{.held = 24, .of = 24, .longest_gap = 0});
  CHECK(day_without({3, 4, 9}) == HoursHeld{.held = 21, .of = 24, .longest_gap = 2});
}

TEST_CASE("a gap at either edge of a day counts as far as the day goes") {
  CHECK(day_without({0, 1, 2, 3, 4}).longest_gap == 5);
  CHECK(day_without({22, 23}).longest_gap == 2);
  CHECK(hours_held({}, kBegins, kBegins + hours{24}) ==
        HoursHeld{.held = 0, .of = 24, .longest_gap = 24});
}

TEST_CASE("hours outside a day are not the day's") {
  const std::vector<Instant> held{kBegins - hours{1}, kBegins, kBegins + hours{24}};
  CHECK(hours_held(held, kBegins, kBegins + hours{24}) ==
        HoursHeld{.held = 1, .of = 24, .longest_gap = 23});
}

TEST_CASE("days on which the clocks change have 23 and 25 hours") {
  const DayGrid grid(testing::berlin(), hours{9});
  const auto hours_of = [&](std::chrono::year_month_day day) {
    return hours_held({}, grid.begins(day), grid.ends(day)).of;
  };
  using namespace std::chrono_literals;
  CHECK(hours_of(2026y / 3 / 28) == 23);
  CHECK(hours_of(2026y / 10 / 24) == 25);
  CHECK(hours_of(2028y / 2 / 29) == 24);
}

TEST_CASE("a day of 24 hours is counted where it begins at half past by UTC") {
  const Instant begins = at("2026-04-12T03:30:00Z");
  std::vector<Instant> held;
  for (int hour = 0; hour < 24; ++hour)
    held.push_back(at("2026-04-12T04:00:00Z") + hours{hour});
  CHECK(hours_held(held, begins, begins + hours{24}) ==
        HoursHeld{.held = 24, .of = 24, .longest_gap = 0});
}

TEST_CASE("a day is complete with four hours missing, and three of them in a row") {
  CHECK(coverage_of(day_without({})) == DayCoverage::kComplete);
  CHECK(coverage_of(day_without({5, 6, 7, 20})) == DayCoverage::kComplete);
  CHECK(coverage_of(day_without({5, 6, 7, 8})) == DayCoverage::kPartial);
  CHECK(coverage_of(day_without({1, 5, 9, 13, 17})) == DayCoverage::kPartial);
}

TEST_CASE("a day with six missing hours is one in part") {
  CHECK(coverage_of(day_without({8, 9, 10, 11, 12, 13})) == DayCoverage::kPartial);
}

TEST_CASE("a day with less than half its hours is as good as missing") {
  std::set<int> missing;
  for (int hour = 0; hour < 12; ++hour)
    missing.insert(hour);
  CHECK(coverage_of(day_without(missing)) == DayCoverage::kPartial);
  missing.insert(12);
  CHECK(coverage_of(day_without(missing)) == DayCoverage::kNotCounted);
  CHECK(coverage_of(HoursHeld{}) == DayCoverage::kNotCounted);
}

// WMO-No. 1203 (2017), from memory, and the older rule as the Utah Climate Center quotes
// the WMO; the days are this project's own.
TEST_CASE("a month has a mean as far as the rules for missing days allow") {
  struct Month {
    std::vector<unsigned> missing;
    bool by_1203;
    bool by_five_three;
  };
  for (const Month& month :
       {Month{{}, true, true}, Month{{3, 9, 15, 21, 27}, true, true},
        Month{{3, 4, 5}, true, true}, Month{{3, 4, 5, 6}, true, false},
        Month{{1, 5, 9, 13, 17, 21}, true, false}, Month{{3, 4, 5, 6, 7}, false, false},
        Month{{1, 3, 5, 7, 9, 11, 13, 15, 17, 19}, true, false},
        Month{{1, 3, 5, 7, 9, 11, 13, 15, 17, 19, 21}, false, false}}) {
    CAPTURE(month.missing.size());
    const std::vector<sys_days> missing = march(month.missing);
    CHECK(has_month_mean(missing, MonthRule::kWmo1203) == month.by_1203);
    CHECK(has_month_mean(missing, MonthRule::kFiveThree) == month.by_five_three);
  }
}

}  // namespace rimeward
