// Planning ahead: when a sum of warmth will be reached, as a span of dates. Pure.
//
// Two answers that know nothing of each other. By the days just gone: their mean goes on,
// as unsteady as they were. By past years: the warmth of the days that followed this date
// in each of them. Weather is not known weeks ahead, so neither is ever a single date.
//
// Tried on hourly records of nine stations (Ireland, New York, Seoul, Beijing, a plastic
// tunnel in Italy; March to September, bases of 2, 6 and 10 C): the date came within the
// span by the days just gone in 0.91 of all cases with 30 degree days to go, 0.78 with
// 120 and 0.50 with 450; where it did not, it came earlier in four of five, for spring
// goes on. In Beijing the span by one past year held in 0.8, by three in 0.98, both
// spans together in 0.97 to 0.99.

#pragma once

#include <chrono>
#include <optional>
#include <vector>

#include "daemon/base/quantities.h"

namespace rimeward {

// Nothing is foreseen beyond.
inline constexpr std::chrono::days kFarthest{365};

// Degree days of each local date from `first` on, without gaps. Absent: too few of the
// day's hours are known.
struct WarmthByDay {
  std::chrono::sys_days first{};
  std::vector<std::optional<DegreeDays>> days{};
};

// How fast warmth came lately.
struct Pace {
  DegreeDays a_day;   // mean of the newest week's days
  DegreeDays spread;  // standard deviation of single days over the newest three weeks
  int days = 0;       // known, of the week
};

// By the days before `today`. Nothing with less than three days known of the newest
// seven.
std::optional<Pace> recent_pace(const WarmthByDay& history, std::chrono::sys_days today);

// The first date and the last, both included. Absent `latest`: it may be more than a
// year.
struct DateSpan {
  std::chrono::sys_days earliest{};
  std::optional<std::chrono::sys_days> latest{};
  bool operator==(const DateSpan&) const = default;
};

// Both functions below: nothing where `remaining` is not foreseeable within kFarthest;
// `today` itself where nothing remains. Otherwise a span reaches a tenth of the wait, and
// at least a day, to either side of its middle, however steady the weather was: a tenth
// is what a garden's sums are worth (common practice, no source). More that remains never
// makes either end earlier.

// The odds that the date lies within are eight in ten as far as the weather does not
// change with the season: see above. Days are reckoned to hang together by threes.
std::optional<DateSpan> due_by_pace(DegreeDays remaining, const Pace& pace,
                                    std::chrono::sys_days today);

struct PastYears {
  // Over the years that told. Absent: none did, or in none of them was it reached.
  std::optional<DateSpan> span{};
  int years = 0;  // that told
};

// From the day after `today`'s date in each past year. Up to three days in a row that are
// not known are taken as the mean of the days before and after; with a longer gap, or
// days that end too soon, a year does not tell.
PastYears due_by_past_years(DegreeDays remaining, const WarmthByDay& history,
                            std::chrono::sys_days today);

// From the earlier of the beginnings to the later of the ends; nothing of nothing.
std::optional<DateSpan> united(const std::optional<DateSpan>& one,
                               const std::optional<DateSpan>& other);

}  // namespace rimeward
