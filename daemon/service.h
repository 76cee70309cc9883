// All parts of a running daemon, started in order and stopped in reverse.

#pragma once

#include <atomic>
#include <cstdint>
#include <memory>

#include "daemon/base/garden.h"
#include "daemon/base/garden_clock.h"
#include "daemon/base/log.h"
#include "daemon/intake.h"

namespace rimeward {

class Service {
 public:
  // Starts everything. Throws StoreError, SpoolError or std::runtime_error, with nothing
  // left running, when a part cannot start; an absent broker is waited for. `trust` is of
  // the system's clock, where that is the source.
  Service(const Garden& garden, ClockSource clock, GardenClock::Trust trust, LogSink log);
  ~Service();  // stops
  Service(const Service&) = delete;
  Service& operator=(const Service&) = delete;

  // Ends the loop with a last commit, lets a delivery under way finish, and takes leave
  // of the broker.
  void stop();

  // True when the loop ended by itself, after its reason was logged.
  bool failed() const;
  // True once the store holds what did not come through this Service: it is to be
  // stopped, and another one started.
  bool wants_to_start_over() const;
  // True when the loop has moved since the last call.
  bool makes_progress();

 private:
  struct Parts;
  std::unique_ptr<Parts> parts_;
  std::uint64_t seen_progress_ = 0;
};

}  // namespace rimeward
