// How good the outlooks of one place have been lately: the dusk ones, which decide
// whether anyone goes out to cover, against the lows that came. Pure but for the store.

#pragma once

#include <chrono>
#include <cstddef>
#include <cstdint>

#include "daemon/base/garden.h"
#include "daemon/climate/verification.h"
#include "daemon/store/store.h"

namespace rimeward {

inline constexpr std::chrono::days kRecordSpan{30};
// A mean over fewer nights says more about those nights than about the outlooks.
inline constexpr std::int64_t kFewestNights = 5;

// Over the nights of kRecordSpan that ended before the one of `tonight` (the date of its
// morning), as daemon/store/past_outlooks.h picks and counts them. A place without
// keep-above has empty `calls`: there was nothing to call.
OutlookScores record_of(const Store& store, const Place& place,
                        std::chrono::sys_days tonight);

}  // namespace rimeward
