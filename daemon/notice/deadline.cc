#include "daemon/notice/deadline.h"

#include "daemon/climate/sun.h"
#include "daemon/notice/words.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;

// Covers go on while the place still holds the day's warmth: a cover keeps warmth, it
// does not make any (FAO Frost Protection vol. 1, 2005, ch. 6).
constexpr auto kBeforeSunset = 30min;
// What becomes known later than this before a limit is not held to it.
constexpr auto kShortestNotice = 15min;
constexpr auto kTimeToCover = 45min;
// Above keep-above: a fleece adds one to three degrees, so air that has come this near
// holds little that it could keep (common practice, no source).
constexpr Kelvins kWorthKeeping{3};

CoverDeadline earliest(const CoverLimits& limits, Instant from) {
  const Instant soonest = from + kShortestNotice;
  CoverDeadline first{rounded_down(limits.sunset - kBeforeSunset), CoverReason::kDark};
  const bool is_late = first.at < soonest;
  if (is_late) first = {rounded_up(from + kTimeToCover), CoverReason::kLate};
  const auto take = [&](std::optional<Instant> at, CoverReason reason) {
    if (at && *at >= soonest && *at < first.at) first = {*at, reason};
  };
  take(limits.evening_by, CoverReason::kEvening);
  // Nobody is hurried in the dark.
  if (!is_late) take(limits.warmth_gone, CoverReason::kWarmth);
  return first;
}

}  // namespace

bool is_before_morning(const Situation& situation) {
  const auto from = situation.hours.morning_from;
  return from && situation.zone.minute_of_day(situation.now) < *from;
}

std::optional<Instant> warmth_gone(const NightCourse& course, Celsius keep_above) {
  const Celsius mark = keep_above + kWorthKeeping;
  if (course.air <= mark) return std::nullopt;
  const auto at = crossing(course, mark);
  if (!at) return std::nullopt;
  return rounded_down(whole_second(*at));
}

CoverDeadline cover_deadline(const CoverLimits& limits, Instant issued_at, Instant now) {
  const CoverDeadline first = earliest(limits, issued_at);
  return now + kShortestNotice <= first.at ? first : earliest(limits, now);
}

}  // namespace rimeward
