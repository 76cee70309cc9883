// What can happen to the daemon: everything that App::turn is fed with.

#pragma once

#include <variant>

#include "daemon/base/arrival.h"
#include "daemon/notice/delivered.h"
#include "daemon/store/rows.h"

namespace rimeward {

// Time has passed and nothing else.
struct Tick {};

// The daemon is to end; what is pending is committed.
struct Stop {};

using Message = std::variant<Arrival, Tick, ActionRow, Delivered, Stop>;

}  // namespace rimeward
