// Dates what arrives by the garden's clock, and says what is to be said of that clock.
// One thread, the loop's.

#pragma once

#include <chrono>
#include <cstddef>
#include <functional>
#include <optional>

#include "daemon/base/arrival.h"
#include "daemon/base/garden_clock.h"
#include "daemon/base/log.h"

namespace rimeward {

class Timekeeper {
 public:
  struct Outside {
    std::function<ClockLook()> look;
    std::function<void(const Course&)> keep;  // for a restart; called when it changes
    LogSink log;
  };

  Timekeeper(GardenClock clock, Outside outside);

  // Looks at the clocks; to be had once a second.
  void look();

  bool is_believed() const { return clock_.is_believed(); }
  bool wants_to_be_told() const { return clock_.wants_to_be_told(); }

  // A fresh message told that time of itself. REQUIRES: `arrival` as it was spooled.
  void told(Instant time, const Arrival& arrival);

  // The garden's time. REQUIRES: is_believed().
  Instant now() const;

  // Puts the garden's time in place of that of a clock which was wrong. False: it came
  // before the board was switched off, and its clock was wrong then; it is counted and to
  // be left out. REQUIRES: is_believed().
  [[nodiscard]] bool date(Arrival& arrival);

  // Logs how many could not be dated, if any, since the last call.
  void report_undated();

 private:
  GardenClock clock_;
  Outside outside_;
  std::optional<Course> kept_;
  std::chrono::seconds looked_at_{0};
  std::size_t undated_ = 0;
};

}  // namespace rimeward
