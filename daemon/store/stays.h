// What follows from where a batch has stood. Pure.

#pragma once

#include <span>

#include "daemon/base/crop.h"
#include "daemon/base/garden.h"
#include "daemon/store/rows.h"

namespace rimeward {

// Hardened: it has stood as many days in frames, beds or outdoors as its crop wants
// hardening nights. `stays` are the batch's, oldest first.
Hardening hardening_of(const Crop& crop, std::span<const StayRow> stays,
                       const Garden& garden, Instant now);

}  // namespace rimeward
