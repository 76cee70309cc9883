// A small store of the Hochfeld garden for tests of what is shown: hourly readings of
// nine April days by formula, outlooks, notices and covers. The same at every call.

#pragma once

#include "daemon/base/garden.h"
#include "daemon/base/zone.h"
#include "daemon/store/store.h"
#include "sensors/units.h"

namespace rimeward {

// An April evening, 18:40 in the garden, an hour and a half before sunset.
Instant sample_evening();

// Five places. The pea bed's sensor has been silent since three in the afternoon, the
// south frame's tells no humidity, and the yard's missed a day and a half. The glasshouse
// has a second one, which is in ice water; the pea bed's second is in no clear format,
// and the yard's was never heard.
Garden sample_garden();
Zone sample_zone();

// As the daemon leaves it at `now`: what came later is not in it. Notice 4 asks to cover
// the north frame tonight, 5 tells of the silent sensor, 1 to 3 are over.
// REQUIRES: `now` lies within thirteen hours of sample_evening().
Store sample_store(Instant now);

}  // namespace rimeward
