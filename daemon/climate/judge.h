// Whether one series' readings can be what the air did: held against the readings beside
// them in time, against the series' own noise, and against the garden's other places.
// Plain values, no locking, no clock.
//
// A reading further from the newest believed one than air can go in that time is held
// until the next confirms it: a true step (a lid blown off) costs one reading's delay, a
// false one is never believed. What was believed and then stands out from the readings on
// both its sides, or stood still while another place moved, is withdrawn.
//
// A judge's memory is a pure function of the readings that it was given and what was
// decided of them, whatever the order, so that one restored from the store goes on to the
// letter as the one that was killed.

#pragma once

#include <chrono>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "daemon/base/doubt.h"
#include "daemon/climate/judge_limits.h"
#include "daemon/climate/judged.h"
#include "sensors/channel.h"
#include "sensors/sensor_type.h"
#include "sensors/units.h"

namespace rimeward {

// Why a value cannot be true of any garden, or of that type of sensor, whatever came
// before it; kNone where it can. `said` is what the sensor said, before any correction.
struct Implausible {
  Doubt doubt = Doubt::kNone;
  std::string why;  // with the numbers; empty for kNone
};
Implausible implausible(Channel channel, double said, const SensorType* type);

class Judge {
 public:
  // How long a judge must be fed when restored. It looks back by a day, from a reading
  // that may come a day late.
  static constexpr std::chrono::hours kMemory{50};

  explicit Judge(Channel channel);

  struct Held {
    Instant time;
    Milli value = 0;
  };
  struct Withdrawn {
    Instant time;
    Milli value = 0;
    Doubt doubt = Doubt::kNone;
    std::string why;
  };
  // The lists are in order of time; neither names the reading that was judged.
  struct Verdict {
    // Of the reading itself: kNone, kJump or kStuck; kRepeat or kSameSecond, when one of
    // that second is remembered, believed or not: then nothing else changes.
    Doubt doubt = Doubt::kNone;
    std::string why;  // with the numbers; empty when it is believed
    // Doubted as jumps until now, and believed by this reading: a true step.
    std::vector<Held> believed_again;
    // Believed until now, and shown to be wrong by this reading.
    std::vector<Withdrawn> withdrawn;
  };

  // Judges a reading and remembers it. `others` are the judges of the same channel in the
  // garden's other places.
  Verdict judge(Instant time, Milli value, std::span<const Judge* const> others);

  // What was decided before, from the store, in any order: the believed, the doubted as
  // jumps (held or withdrawn), the doubted as stuck.
  void restore_believed(Instant time, Milli value);
  void restore_held(Instant time, Milli value);
  void restore_stuck(Instant time, Milli value);

  void forget_before(Instant oldest);

 private:
  void restore(Instant time, Milli value, JudgedReading::State state);

  Channel channel_;
  const JudgeLimits* limits_;  // null: anything is possible
  JudgedReadings readings_;
};

}  // namespace rimeward
