// How far and how fast the readings of a channel can truly go: the numbers by which a
// judge judges. Plain constants, thread-safe.

#pragma once

#include <array>
#include <chrono>
#include <optional>

#include "sensors/channel.h"

namespace rimeward {

// A limit that depends on the time between two readings: straight between its points,
// and before the first as at the first. Beyond the last there is none.
struct TimedLimit {
  struct Point {
    std::chrono::seconds span;
    Milli change;
    // A noisy series may go so many of its own median steps, where that is more.
    Milli steps;
  };
  std::array<Point, 4> points;

  // Nothing: any change is possible in that time. `noise`: the median step.
  std::optional<Milli> at(std::chrono::seconds span, Milli noise) const;
};

struct JudgeLimits {
  // From a believed reading to the next: what goes further waits to be confirmed.
  TimedLimit step;
  // Off the line between the readings before and after, by the longer of the two times:
  // what stands out further is wrong.
  TimedLimit excursion;
  // Another place must have moved by more than this for one that stood still to be
  // stuck, and by more than so many of its own smallest steps. Absent: a channel that
  // may stand still for long.
  std::optional<Milli> moved_elsewhere;
  // At this and above a sensor rightly stands still.
  Milli saturated;
};

// Nothing for a channel that can go anywhere at any time: light, moisture, batteries.
const JudgeLimits* judge_limits(Channel channel);

}  // namespace rimeward
