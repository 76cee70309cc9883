// What can happen to the daemon: everything that App::turn is fed with.

#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <variant>

#include "daemon/base/arrival.h"
#include "daemon/base/doubt.h"
#include "daemon/notice/delivered.h"
#include "daemon/notice/store_trouble.h"
#include "daemon/store/rows.h"

namespace rimeward {

// Messages on a topic that were dropped before the App saw them, to be counted.
struct Dropped {
  std::string topic;
  Doubt why = Doubt::kFlood;  // or kRedelivered
  std::int64_t count = 0;
};

// Time has passed and nothing else.
struct Tick {};

// The daemon is to end; what is pending is committed.
struct Stop {};

// How the store fares, when that has changed. Absent: it takes readings.
struct StoreState {
  std::optional<StoreTrouble> trouble;
};

using Message =
    std::variant<Arrival, Dropped, Tick, ActionRow, Delivered, StoreState, Stop>;

}  // namespace rimeward
