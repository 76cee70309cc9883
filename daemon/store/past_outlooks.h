// The outlooks of nights that are over, beside the lows that came. Pure but for the
// store.

#pragma once

#include <chrono>
#include <vector>

#include "daemon/base/garden.h"
#include "daemon/climate/verification.h"
#include "daemon/store/store.h"

namespace rimeward {

// The dusk outlooks, which decide whether anyone goes out to cover, of the nights dated
// `first` to `last` that have both one and a low. A night under a cover counts by what it
// would have come to without one, which is what the outlooks are of: by its low less what
// the layers were believed to add then; one whose cover was changed in the night is left
// out.
std::vector<VerifiedOutlook> past_outlooks(const Store& store, const Place& place,
                                           std::chrono::sys_days first,
                                           std::chrono::sys_days last);

// Of what their odds are. Any threshold gives the same errors and ranges, so that a place
// without keep-above has one too.
Celsius odds_threshold(const Place& place);

}  // namespace rimeward
