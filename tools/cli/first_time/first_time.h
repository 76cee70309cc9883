// `rimeward first-time` from the first question to the written file.

#pragma once

#include <string>

#include "tools/cli/first_time/first_time_broker.h"
#include "tools/cli/first_time/first_time_site.h"
#include "tools/cli/verb.h"

namespace rimeward {

// What the set-up needs besides the person.
struct FirstTimeMeans {
  MachineHabits habits;
  DaemonFollower follow;
};

// Asks, listens, and writes around.config_file, if that is not there yet. Nothing is
// written before the last question has been answered with yes. REQUIRES: `around` has a
// Conversation.
Reply set_up(const Surroundings& around, const FirstTimeMeans& means);

// The least that a settings file needs, to be filled in, as TOML. Pure.
std::string least_settings();

}  // namespace rimeward
