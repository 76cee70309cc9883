// The keep-above of places as the daemon reckons it.

#pragma once

#include "daemon/base/garden.h"
#include "daemon/store/store.h"

namespace rimeward {

// Fills in the keep-above of each place for which the settings leave it to the batches:
// as the daemon last told it, or the usual one where it never did.
void take_keep_above(Garden& garden, const Store& store);

}  // namespace rimeward
