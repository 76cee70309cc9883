// Winter chill: what fruit trees and bushes need of it before they leaf and flower. Whole
// numbers an hour, so that sums are the same in whatever order hours come. Pure.

#pragma once

#include "sensors/channel.h"

namespace rimeward {

// 1 for an hour whose mean is 0 to 7.2 degrees C (32 to 45 F), both counted; else 0. The
// usual count; of common practice, without one source.
int chill_hours(Milli mean);

// The same with hours of frost: 1 for a mean of 7.2 degrees C or less.
int chill_hours_with_frost(Milli mean);

// In thousandths of a chill unit: -1000 to 1000. Cold near freezing and warmth count
// less or nothing, and warm hours undo chill.
// Source: Richardson, Seeley & Walker (1974), HortScience 9, 331-332. Their bands are
// printed to a tenth of a degree C (1.5 to 2.4, 2.5 to 9.1, ...); the gaps are closed at
// their middles (2.45), which belong to the warmer band.
// A season's count begins, by their rule, when the sum stops falling in autumn.
Milli chill_units(Milli mean);

}  // namespace rimeward
