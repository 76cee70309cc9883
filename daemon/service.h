// All parts of a running daemon, started in order and stopped in reverse.

#pragma once

#include <atomic>
#include <cstdint>
#include <memory>
#include <optional>
#include <string>

#include "daemon/base/garden.h"
#include "daemon/base/garden_clock.h"
#include "daemon/base/log.h"
#include "daemon/intake.h"
#include "daemon/loop.h"
#include "daemon/store/store_error.h"

namespace rimeward {

class Service {
 public:
  // Starts everything. Throws StoreError, SpoolError or std::runtime_error, with nothing
  // left running, when a part cannot start; an absent broker is waited for. A store whose
  // medium fails it, or that has the `damage` which another Service found, is left alone,
  // and one in memory stands in for it until it is of use again. `trust` is of the
  // system's clock, where that is the source.
  Service(const Garden& garden, ClockSource clock, GardenClock::Trust trust, LogSink log,
          const std::optional<StoreError>& damage = std::nullopt);
  ~Service();  // stops
  Service(const Service&) = delete;
  Service& operator=(const Service&) = delete;

  // Ends the loop with a last commit, lets a delivery under way finish, and takes leave
  // of the broker.
  void stop();

  // True when the loop ended by itself, after its reason was logged.
  bool failed() const;
  // Why it is to be stopped, and another one started.
  StartOver wants_to_start_over() const;
  // How the store fares, in a line.
  std::string store_status() const;
  // What the next Service is to be given. Only after stop().
  std::optional<StoreError> damage() const;
  // True when the loop has moved since the last call.
  bool makes_progress();

 private:
  struct Parts;
  struct Opened;

  static std::unique_ptr<Parts> start(const Garden& garden, ClockSource clock,
                                      GardenClock::Trust trust, const LogSink& log,
                                      const std::optional<StoreError>& damage);

  std::unique_ptr<Parts> parts_;
  std::uint64_t seen_progress_ = 0;
};

}  // namespace rimeward
