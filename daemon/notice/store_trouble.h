// What keeps the store from taking readings, as the loop finds it. Plain values.

#pragma once

#include <optional>

#include "daemon/store/store_error.h"
#include "sensors/units.h"

namespace rimeward {

struct StoreTrouble {
  StoreFault fault = StoreFault::kOther;
  Instant since{};         // by the garden's clock
  bool stands_in = false;  // the daemon runs on a copy in memory, the file is left alone
  std::optional<Instant> over_at{};  // it takes readings again since
  // It lasted for so long that the oldest readings which waited for it were let go.
  bool lost_some = false;
  bool operator==(const StoreTrouble&) const = default;
};

}  // namespace rimeward
