// What the verbs that write have in common: the gardener's word goes into the store, from
// where the daemon takes it.

#pragma once

#include <string>

#include "tools/cli/verb.h"

namespace rimeward {

// Writes the action down and says so: `said`, then whether the daemon is there to take
// it. As JSON: the action's id, verb and members, and daemon_running. It is of now,
// unless it has a time of its own. REQUIRES: the action holds against the settings and
// the store.
Reply write_down(const Context& context, ActionRow action, std::string text);

}  // namespace rimeward
