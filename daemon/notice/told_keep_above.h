// The keep-above of a place for those who have the store and not the daemon's memory.
// Pure but for the store.

#pragma once

#include <optional>

#include "daemon/base/garden.h"
#include "daemon/store/store.h"

namespace rimeward {

// As set for the place; else as the daemon last reckoned it from the batches, or the
// usual one where it never did. Absent: nothing to protect there.
std::optional<Celsius> told_keep_above(const Store& store, const Place& place);

}  // namespace rimeward
