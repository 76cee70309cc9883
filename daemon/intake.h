// What one message means for the garden: decoded, timed and judged. Pure.

#pragma once

#include <optional>
#include <string>
#include <vector>

#include "daemon/base/arrival.h"
#include "daemon/base/garden.h"
#include "sensors/channel.h"
#include "sensors/units.h"

namespace rimeward {

// Whose clock the daemon goes by.
enum class ClockSource {
  kSystem,    // the board's
  kReadings,  // the newest believable time in the readings: demos and rehearsals
};

// One sample of a message, ready to be stored. A reason makes it doubtful.
struct JudgedSample {
  Channel channel{};
  double value = 0;   // in the channel's unit
  std::string doubt;  // empty: believed
};

// What a message said of one sensor.
struct Intake {
  Instant time;  // when it was measured
  std::vector<JudgedSample> samples;
};

// The message as `sensor` would have sent it, or why nothing of it can be stored.
//
// A time in the payload is honoured when it is believable: by the system's clock, from 31
// days before the arrival to 5 minutes after it; by the readings' clock, from 2001 to a
// day after it. Else the arrival's time stands, but for a retained copy, which may be of
// any age, and by the readings' clock, where nothing else tells the time: these are
// refused.
Result<Intake> take_in(const Arrival& arrival, const Sensor& sensor, ClockSource clock);

}  // namespace rimeward
