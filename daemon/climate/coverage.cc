#include "daemon/climate/coverage.h"

#include <algorithm>
#include <cstdlib>

namespace rimeward {
namespace {

using std::chrono::ceil;
using std::chrono::days;
using std::chrono::hours;
using std::chrono::sys_days;

constexpr int kMostMissing = 4;
constexpr int kLongestGap = 3;

std::int64_t longest_run(std::span<const sys_days> dates) {
  std::int64_t longest = 0;
  std::int64_t run = 0;
  for (std::size_t i = 0; i < dates.size(); ++i) {
    const bool follows = i > 0 && dates[i] - dates[i - 1] == days{1};
    run = follows ? run + 1 : 1;
    longest = std::max(longest, run);
  }
  return longest;
}

}  // namespace

HoursHeld hours_held(std::span<const Instant> of_hours, Instant begins, Instant ends) {
  const auto first = ceil<hours>(begins);
  const auto last = ceil<hours>(ends);
  HoursHeld result{
      .held = 0, .of = static_cast<int>((last - first).count()), .longest_gap = 0};
  auto missing_from = first;
  const auto close_gap = [&](auto until) {
    const int gap = static_cast<int>((until - missing_from).count());
    result.longest_gap = std::max(result.longest_gap, gap);
  };
  for (auto at = std::ranges::lower_bound(of_hours, begins);
       at != of_hours.end() && *at < ends; ++at) {
    const auto hour = ceil<hours>(*at);
    ++result.held;
    close_gap(hour);
    missing_from = hour + hours{1};
  }
  close_gap(last);
  return result;
}

DayCoverage coverage_of(const HoursHeld& held) {
  if (2 * held.held < held.of || held.of == 0) return DayCoverage::kNotCounted;
  const bool complete =
      held.of - held.held <= kMostMissing && held.longest_gap <= kLongestGap;
  return complete ? DayCoverage::kComplete : DayCoverage::kPartial;
}

bool has_month_mean(std::span<const sys_days> missing, MonthRule rule) {
  switch (rule) {
    case MonthRule::kWmo1203:
      return missing.size() < 11 && longest_run(missing) < 5;
    case MonthRule::kFiveThree:
      return missing.size() <= 5 && longest_run(missing) <= 3;
  }
  std::abort();
}

}  // namespace rimeward
