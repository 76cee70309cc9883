// Tells what a broker carries, for whoever sets up a garden: connects as nobody in
// particular, prints what it hears, and leaves no trace on the broker.

#pragma once

#include <chrono>
#include <cstddef>
#include <functional>

#include "daemon/base/garden.h"

namespace rimeward {

// Messages on further topics than so many are not told: topics are chosen by outsiders.
inline constexpr std::size_t kMostTopicsTold = 2000;

// Listens to broker.listen at broker.address for `span`, or until `stop` says so, which
// is asked about ten times a second, or until nobody reads `output` any more. Of `broker`
// the client id and status topic do not count: it has an id of its own and keeps no
// session.
//
// Each line that it writes to `output`, a file descriptor, is one of daemon/heard_line.h;
// the first tells that it is connected or why it is not. It goes on trying to connect. Of
// a topic or payload that is longer than the daemon would note, see
// daemon/heard_topics.h, nothing or the beginning is told.
//
// True when it was connected. REQUIRES: SIGPIPE is ignored. Starts threads of its own,
// and ends them.
bool listen_in(const Broker& broker, std::chrono::seconds span,
               const std::function<bool()>& stop, int output);

}  // namespace rimeward
