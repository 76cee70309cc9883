// The questions of a set-up about what was heard: what becomes a sensor, and where.

#pragma once

#include <span>
#include <string>
#include <vector>

#include "daemon/base/garden.h"
#include "daemon/store/rows.h"
#include "tools/cli/first_time/first_time_dialogue.h"

namespace rimeward {

// Fills in the sensors, and has the broker listen to their topics and not to all. `heard`
// is in the order of the topics. REQUIRES: there is a place. Throws Interrupted.
void ask_sensors(const Dialogue& dialogue, const std::vector<HeardRow>& heard,
                 Garden& garden);

// The filters that a garden of these sensors needs: the first levels of their topics.
// Pure.
std::vector<std::string> filters_for(std::span<const Sensor> sensors);

}  // namespace rimeward
