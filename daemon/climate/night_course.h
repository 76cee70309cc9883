// A night's outlook between two of its moments: what the readings since it was issued
// make of it, and the course that the air is expected to take until sunrise. Each new
// reading costs the same few operations. Pure: thread-safe.
//
// An outlook is issued, and frozen for the record, at four moments. Between them
//   way(t)    how far the air usually is on its way down: 0 at sunset, 1 at sunrise,
//             1 - (1 - share of the night gone)^1.75; before sunset -0.35 an hour
//   F(t)      (way(t) - way(issue)) / (1 - way(issue)), of the fall that was issued
//   coming    low issued + g (air read - (air at issue - F fall)), the lowest still to
//             come; never above the air read; g grows evenly from 0 at 0.3 of a night
//             before sunset to 1 at 0.3 after it. From there on: the air read less what
//             is left of the fall
//   spreads   as issued, times the root of the share of the time left until an hour
//             after sunrise, when the low is taken to be over
// The low is the lower of what was read since sunset and what is coming.
//
// This project's own, with constants chosen on open hourly records of Newark, of two
// Irish stations and of two years near Beijing. On six others and the two years after
// them, against an outlook that only follows the lowest reading, the mean error of the
// low is as it was in the first two hours after the afternoon's moment, and falls by 8 %
// in the second hour after dusk's, 14 % in the second after dark's, 28 % in the third
// after late's and half in the sixth. About a tenth of the lows stays below low10 at
// every hour; above low90 come the fewer the later it is, since it is no higher than what
// was read.

#pragma once

#include <optional>
#include <vector>

#include "daemon/climate/outlook.h"
#include "daemon/climate/sun.h"
#include "sensors/units.h"

namespace rimeward {

// The readings since an outlook was issued, as they are without a cover.
struct ReadSince {
  Instant at;  // of the newest
  // That one. Where a sensor speaks each minute or so, the mean of a quarter of an hour
  // is almost as good, and moves the low less from one to the next.
  Celsius air;
  std::optional<Celsius> lowest;     // since sunset; absent before it
  std::optional<Instant> lowest_at;  // when that was first read
};

struct NightCourse {
  // As issued, with low, low10, low90, spreads and running_low brought up to `as_of`, so
  // that odds_below(outlook, threshold) are those of that time. The spreads are at least
  // 0.05 K.
  Outlook outlook;
  SunTime as_of;       // the newest reading's time, or that of the issue
  Celsius air;         // then
  SunTime low_at;      // when the low is expected, or was read if it is over
  Celsius coming_low;  // the lowest still to come; above outlook.low where that is over
  SunTime coming_at;   // sunrise, or as_of once that is later
};

// `read` is absent, or not newer than the issue, where nothing was read since: then the
// course is the issued outlook's own, with the very same numbers. It needs no `now`: an
// outlook that is told of no reading does not narrow, so its range holds through hours of
// silence as it is (measured on records with gaps of up to 8 hours).
NightCourse course_of(const Outlook& issued, const std::optional<ReadSince>& read);

// The air as expected, from `as_of` down to coming_low and up again until two hours after
// sunrise; before and after: the nearer end.
Celsius air_at(const NightCourse& course, SunTime at);

// When the air comes down to the threshold; as_of where it is there already; nothing
// where it is expected to stay above from as_of on.
std::optional<SunTime> crossing(const NightCourse& course, Celsius threshold);

struct CoursePoint {
  Instant at;
  Celsius air;
};

// From `as_of` to the end of the night at whole half hours of UTC, for charts.
std::vector<CoursePoint> half_hours(const NightCourse& course);

}  // namespace rimeward
