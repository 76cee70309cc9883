// The parts of the settings file that set thresholds of advice: the tables [damp],
// [blight] and [dry], and a place's keys about water. Internal to daemon/settings*.cc.

#pragma once

#include "daemon/base/garden.h"
#include "daemon/base/keys.h"

namespace rimeward {

// `file` is the whole file.
void read_advice(Keys& file, Advice& advice);

// dry_after and soil_moisture_low of one [[place]].
void read_water_marks(Keys& place_keys, Place& place);

}  // namespace rimeward
