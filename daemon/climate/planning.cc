#include "daemon/climate/planning.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <iterator>
#include <span>

namespace rimeward {
namespace {

using std::chrono::days;
using std::chrono::sys_days;

constexpr days kWeek{7};
constexpr days kThreeWeeks{21};
constexpr int kFewestDays = 3;
constexpr days kLongestGap{3};
// Of a normal distribution: eight in ten lie within so many standard deviations.
constexpr double kEightInTen = 1.2816;
// A warm day seldom comes alone: the mean of n days is as unsteady as that of a third as
// many that know nothing of each other.
constexpr double kDaysTogether = 3;

std::optional<double> warmth_on(const WarmthByDay& history, sys_days date) {
  const auto index = (date - history.first).count();
  if (index < 0 || static_cast<std::size_t>(index) >= history.days.size()) {
    return std::nullopt;
  }
  const auto& warmth = history.days[static_cast<std::size_t>(index)];
  return warmth ? std::optional(warmth->degree_days) : std::nullopt;
}

std::vector<double> known_before(const WarmthByDay& history, sys_days today, days span) {
  std::vector<double> known;
  for (sys_days date = today - span; date < today; date += days{1}) {
    if (const auto warmth = warmth_on(history, date)) known.push_back(*warmth);
  }
  return known;
}

double mean(std::span<const double> values) {
  double sum = 0;
  for (const double value : values)
    sum += value;
  return sum / static_cast<double>(values.size());
}

// REQUIRES: two values or more.
double standard_deviation(std::span<const double> values) {
  const double middle = mean(values);
  double squares = 0;
  for (const double value : values)
    squares += (value - middle) * (value - middle);
  return std::sqrt(squares / static_cast<double>(values.size() - 1));
}

// The first day on which so many standard deviations above the mean's course, or below
// it, `remaining` is reached. The mean itself is known from a week only, so that the
// spread of the sum of n days grows with n (1 + n / 7).
std::optional<days> reached_after(double remaining, const Pace& pace, double deviations) {
  for (days wait{1}; wait <= kFarthest; wait += days{1}) {
    const auto n = static_cast<double>(wait.count());
    const double spread =
        pace.spread.degree_days * std::sqrt(kDaysTogether * n * (1 + n / pace.days));
    if (n * pace.a_day.degree_days + deviations * spread >= remaining) return wait;
  }
  return std::nullopt;
}

// Widened to what both answers promise at least.
DateSpan span_of(days earliest, std::optional<days> latest, sys_days today) {
  if (!latest) return {.earliest = today + earliest, .latest = {}};
  const auto ends = (earliest + *latest).count();
  const days before{(ends * 9) / 20};       // nine tenths of the middle, rounded down
  const days after{(ends * 11 + 19) / 20};  // eleven tenths, rounded up
  return {.earliest = today + std::min(earliest, before),
          .latest = today + std::max(*latest, after)};
}

sys_days same_date(sys_days today, int years_ago) {
  const std::chrono::year_month_day date{today};
  const std::chrono::year_month_day then = date - std::chrono::years{years_ago};
  return then.ok() ? sys_days{then} : sys_days{then.year() / then.month() / 28};
}

// The days after `start`, short gaps filled, as far as they are known and lie before
// `end`; at most kFarthest.
std::vector<double> followed(const WarmthByDay& history, sys_days start, sys_days end) {
  std::vector<double> known;
  std::optional<double> before = warmth_on(history, start);
  days gap{0};
  for (sys_days date = start + days{1}; date < end && date <= start + kFarthest;
       date += days{1}) {
    const auto warmth = warmth_on(history, date);
    if (!warmth) {
      if (++gap > kLongestGap) break;
      continue;
    }
    const double filled = (before.value_or(*warmth) + *warmth) / 2;
    known.insert(known.end(), static_cast<std::size_t>(gap.count()), filled);
    known.push_back(*warmth);
    before = warmth;
    gap = days{0};
  }
  return known;
}

// The wait within these days; nothing where they do not come to it.
std::optional<days> reached_within(double remaining, std::span<const double> following) {
  double sum = 0;
  for (std::size_t i = 0; i < following.size(); ++i) {
    sum += following[i];
    if (sum >= remaining) return days{static_cast<int>(i) + 1};
  }
  return std::nullopt;
}

}  // namespace

std::optional<Pace> recent_pace(const WarmthByDay& history, sys_days today) {
  const std::vector<double> week = known_before(history, today, kWeek);
  if (week.size() < kFewestDays) return std::nullopt;
  const std::vector<double> weeks = known_before(history, today, kThreeWeeks);
  return Pace{.a_day = {mean(week)},
              .spread = {standard_deviation(weeks)},
              .days = static_cast<int>(week.size())};
}

std::optional<DateSpan> due_by_pace(DegreeDays remaining, const Pace& pace,
                                    sys_days today) {
  if (remaining.degree_days <= 0) return DateSpan{today, today};
  // A pace of nothing may be unsteady about it, but foresees nothing.
  if (pace.a_day.degree_days <= 0) return std::nullopt;
  const auto earliest = reached_after(remaining.degree_days, pace, +kEightInTen);
  if (!earliest) return std::nullopt;
  return span_of(*earliest, reached_after(remaining.degree_days, pace, -kEightInTen),
                 today);
}

PastYears due_by_past_years(DegreeDays remaining, const WarmthByDay& history,
                            sys_days today) {
  PastYears past;
  std::optional<days> earliest;
  std::optional<days> latest;
  bool always = true;
  for (int ago = 1; same_date(today, ago) >= history.first; ++ago) {
    const auto following = followed(history, same_date(today, ago), today);
    const auto wait = reached_within(remaining.degree_days, following);
    // A year that ends too soon may have come to it later; of the newest, all days but
    // its last are known.
    if (!wait && std::ssize(following) < kFarthest.count() - 1) continue;
    ++past.years;
    always = always && wait;
    if (!wait) continue;
    earliest = std::min(earliest.value_or(*wait), *wait);
    latest = std::max(latest.value_or(*wait), *wait);
  }
  if (remaining.degree_days <= 0 && past.years > 0) {
    past.span = DateSpan{today, today};
  } else if (earliest) {
    past.span = span_of(*earliest, always ? latest : std::nullopt, today);
  }
  return past;
}

std::optional<DateSpan> united(const std::optional<DateSpan>& one,
                               const std::optional<DateSpan>& other) {
  if (!one) return other;
  if (!other) return one;
  DateSpan span{.earliest = std::min(one->earliest, other->earliest), .latest = {}};
  if (one->latest && other->latest) span.latest = std::max(*one->latest, *other->latest);
  return span;
}

}  // namespace rimeward
