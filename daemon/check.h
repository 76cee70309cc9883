// Tries what the daemon needs, without being the daemon: settings are read by then.

#pragma once

#include <cstdio>

#include "daemon/base/garden.h"

namespace rimeward {

// Prints one line for the store, the broker and each route: "ok", or what is
// wrong and what to do. True when all is well. Writes nothing into the store, and takes
// no message from the broker that is meant for the daemon.
bool check(const Garden& garden, std::FILE* out);

}  // namespace rimeward
