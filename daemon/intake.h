// What one message means for the garden: decoded, and dated. Pure.

#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/base/arrival.h"
#include "daemon/base/doubt.h"
#include "daemon/base/garden.h"
#include "sensors/channel.h"
#include "sensors/decoders.h"
#include "sensors/units.h"

namespace rimeward {

// Whose clock the daemon goes by.
enum class ClockSource {
  kSystem,    // the board's
  kReadings,  // the newest believable time in the readings: demos and rehearsals
};

// The facts that the daemon itself finds out and keeps among a sensor's.
inline constexpr std::string_view kFactFormat = "format";  // found by looking
inline constexpr std::string_view kFactChannel =
    "channel";  // of its bare number, likewise
// What its messages could be, where more than one thing; "" when that is settled.
inline constexpr std::string_view kFactUnclear = "format?";
// One of the things that it could be.
inline constexpr std::string_view kUnknownChannel = "a number of unknown channel";

// A message of a sensor, with what is known of that sensor.
struct SensorMessage {
  const Arrival& arrival;
  std::string_view below;  // its topic's levels below the sensor's own
  const Sensor& sensor;
  const Facts& known;
};

// How the samples of a message are to be dated.
struct Dating {
  ClockSource clock = ClockSource::kSystem;
  std::optional<Instant> now;   // the garden's; absent before the first reading
  bool clock_is_wrong = false;  // the sensor's has been, time after time
};

struct DatedSample {
  Channel channel{};
  double said = 0;  // in the channel's unit
  Instant time;
  Doubt doubt = Doubt::kNone;  // kFuture or kTooOld: dated as it arrived
  std::string why;             // with the numbers; empty without doubt
};

struct Intake {
  std::vector<DatedSample> samples;  // may be empty
  Facts facts;                       // new or changed
  std::optional<int> packet_id;
  // Why there is no sample though there should be one: kUnreadable or kRetained.
  Doubt refused = Doubt::kNone;
  std::string why;
  // What the time that it told says of the sensor's clock: kNone, it is right; kFuture or
  // kTooOld. Absent: it told no time.
  std::optional<Doubt> clock;
};

// A time in the payload is honoured when it is believable: by the system's clock, from 31
// days before the arrival to 5 minutes after it; by the readings' clock, from 2001 to a
// day after it. Without one the arrival's time stands, but for a retained copy, which may
// be of any age, and by the readings' clock, where nothing else tells the time: these are
// refused. A time that is not believable makes the sample doubtful, unless the sensor's
// clock is known to be wrong: then the arrival's time stands, too.
Intake take_in(const SensorMessage& message, const Dating& dating);

// The newest time that the message tells of itself, believable or not.
std::optional<Instant> time_told_in(const SensorMessage& message);

}  // namespace rimeward
