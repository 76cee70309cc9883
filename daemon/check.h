// Tries what the daemon needs, without being the daemon: settings are read by then.

#pragma once

#include <cstdio>

#include "daemon/base/garden.h"
#include "daemon/base/zone.h"

namespace rimeward {

// Prints one line for the store, the broker and each route: "ok", or what is
// wrong and what to do. True when all is well. Writes nothing into the store, and takes
// no message from the broker that is meant for the daemon.
//
// Of a route it looks for the programs and files that it needs; with `routes` it also
// sends a trial by each, which says that it is one. What was published to the broker for
// that is taken away again.
bool check(const Garden& garden, const Zone& zone, bool routes, std::FILE* out);

}  // namespace rimeward
