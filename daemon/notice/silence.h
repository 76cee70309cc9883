// Who is silent: a sensor by its own rhythm, or the garden as a whole, when what its
// sensors share (broker, network, power) has failed. Pure.

#pragma once

#include <optional>
#include <span>
#include <vector>

#include "daemon/notice/situation.h"

namespace rimeward {

struct SilentSensor {
  const SensorView* view = nullptr;
  // True while nothing else has been heard either that could tell this sensor's silence
  // from the garden's.
  bool is_alone = false;
};

struct Silence {
  // When the garden was last heard, or since when it has been waited for; absent while it
  // is not silent as a whole.
  std::optional<Instant> garden_since;
  // Those that are silent by themselves, before or beside the garden's silence. Sensors
  // that are being checked are never among them.
  std::vector<SilentSensor> sensors;
};

// A sensor is silent once it has been waited for longer than its limit: silent_after of
// the settings, else four of its usual gaps, or what it leaves out now and then three
// times over. When others were heard meanwhile, it is silent by itself. When nothing else
// was, two sensors over their limits make the garden's silence, which takes in all the
// others as their limits pass.
//
// The first message after a silence of the garden must set awaited_since of every sensor
// but those in Silence::sensors, so that none is called silent for what was not its
// fault. The result points into `sensors`.
Silence silence_among(std::span<const SensorView> sensors, Instant now);

}  // namespace rimeward
