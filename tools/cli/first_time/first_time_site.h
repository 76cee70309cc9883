// The first questions of a set-up: what the garden is called and where it lies.

#pragma once

#include <string>

#include "daemon/base/garden.h"
#include "sensors/units.h"
#include "tools/cli/first_time/first_time_dialogue.h"

namespace rimeward {

// What the machine is set to, for what is usual.
struct MachineHabits {
  std::string time_zone;  // IANA name; empty: not known, or UTC, which no garden is in
  std::string language = "en";  // one that notices can be in
};

// Fills in name, position, time zone, units and language. `now` is the system's time, for
// what the sun does there today. Throws Interrupted.
void ask_site(const Dialogue& dialogue, const MachineHabits& habits, Instant now,
              Garden& garden);

}  // namespace rimeward
