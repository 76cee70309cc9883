// The questions of a set-up about the broker, and the listening to it.

#pragma once

#include <functional>
#include <string>
#include <vector>

#include "daemon/base/garden.h"
#include "daemon/store/rows.h"
#include "tools/cli/daemon_run.h"
#include "tools/cli/first_time/first_time_dialogue.h"

namespace rimeward {

// follow_daemon(), or what stands in for it in a test.
using DaemonFollower =
    std::function<DaemonRun(const std::vector<std::string>&, const Following&)>;

// What `rimewardd --listen` is to be called with. Pure.
std::vector<std::string> listening_arguments(const Broker& broker,
                                             std::chrono::seconds span);

// Fills in the broker, whose `listen` is then what was listened to, and listens for as
// long as is asked for. What was heard, in the order of the topics; of rimeward's own
// topics nothing. A broker that does not answer may be gone on without. REQUIRES: there
// is a place. Throws Interrupted.
std::vector<HeardRow> ask_broker(const Dialogue& dialogue, const DaemonFollower& follow,
                                 Instant now, Garden& garden);

}  // namespace rimeward
