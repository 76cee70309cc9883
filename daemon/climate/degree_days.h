// Degree days: warmth above a base temperature, in degrees C times days. Pure.
//
// The gardener's figures come from the measured curve: each hour adds its mean above the
// base. The other ways need only a day's low and high; they are here to compare with
// published tables, each of which was made in one of them. Where a threshold lies between
// low and high they miss the measured curve by up to a few tenths of the day's figure.
//
// Sources: McMaster & Wilhelm (1997), Agric. For. Meteorol. 87, 291-300 (simple average,
// methods 1 and 2); Baskerville & Emin (1969), Ecology 50, 514-517 (single sine); Zalom
// et al. (1983), UC Leaflet 21373 (single triangle, the three cut-offs); Met Eireann,
// climate data note on degree days (four cases); Perry & Wehner (1996), HortTechnology 6,
// 27-30 (reduced ceiling).

#pragma once

#include <cstdint>
#include <optional>

#include "daemon/base/quantities.h"
#include "sensors/channel.h"
#include "sensors/units.h"

namespace rimeward {

// What warmth above the upper threshold counts for: as much as at the threshold
// (horizontal), less by what it exceeds it (intermediate), nothing (vertical).
enum class CutOff { kHorizontal, kIntermediate, kVertical };

// REQUIRES: base < upper.
struct WarmthLimits {
  Celsius base;
  std::optional<Celsius> upper{};  // absent: all warmth counts
  CutOff cut_off = CutOff::kHorizontal;
};

// --- the measured curve

// What an hour of this mean adds, in thousandths of a degree C hour: a whole number, so
// that sums are the same in whatever order hours come. Limits count to the thousandth.
// Never below 0; with an intermediate cut-off that holds hour by hour, from as far above
// the upper threshold as that is above the base.
Milli degree_hours(Milli mean, const WarmthLimits& limits);

// A sum of them.
DegreeDays degree_days(std::int64_t degree_hours_sum);

// --- a day by its low and high; REQUIRES: low <= high

struct DayRange {
  Celsius low;
  Celsius high;
};

// The simple average. Method 1 holds the day's mean to base and upper threshold, method 2
// its low and its high. They differ when the base or the upper threshold lies between low
// and high. The cut-off is horizontal, whatever the limits say.
DegreeDays average_method_1(const DayRange& day, const WarmthLimits& limits);
DegreeDays average_method_2(const DayRange& day, const WarmthLimits& limits);

// The day as a sine, or as two straight lines, between its low and its high. Intermediate
// is the published difference, DD(base) - 2 DD(upper), but never below 0.
DegreeDays single_sine(const DayRange& day, const WarmthLimits& limits);
DegreeDays single_triangle(const DayRange& day, const WarmthLimits& limits);

// As the Irish and British weather services publish them, above and below a base.
DegreeDays four_case_above(const DayRange& day, Celsius base);
DegreeDays four_case_below(const DayRange& day, Celsius base);

// Heat units by the high alone; above the ceiling it counts as far below as it is above.
// Never below 0. REQUIRES: base < ceiling.
DegreeDays reduced_ceiling(Celsius high, Celsius base, Celsius ceiling);

}  // namespace rimeward
