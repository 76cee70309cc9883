// How often a sensor is heard, from its newest readings. Plain values, no locking.

#pragma once

#include <chrono>
#include <optional>
#include <vector>

#include "sensors/units.h"

namespace rimeward {

class Rhythm {
 public:
  // So many readings tell the rhythm, if they are no older than this before the newest.
  static constexpr std::size_t kReadings = 12;
  static constexpr std::chrono::hours kSpan{48};

  // In any order; the same time twice counts once.
  void heard(Instant at);

  // The newest reading's time; nothing before the first.
  std::optional<Instant> last_heard() const;
  // The middle one of the gaps between the readings; nothing for fewer than three.
  std::optional<std::chrono::seconds> usual_gap() const { return usual_gap_; }
  // The second longest of these gaps: what it leaves out now and then. The longest may
  // have been an outage. Nothing for fewer than three readings.
  std::optional<std::chrono::seconds> long_gap() const { return long_gap_; }

 private:
  void measure();
  std::vector<std::chrono::seconds> gaps() const;

  std::vector<Instant> times_;  // the newest few, sorted
  // Asked for at every look, and changed by readings alone.
  std::optional<std::chrono::seconds> usual_gap_;
  std::optional<std::chrono::seconds> long_gap_;
};

}  // namespace rimeward
