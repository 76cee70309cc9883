// The daemon's log lines on the console, or in the journal when started by it.

#pragma once

#include "daemon/base/log.h"

namespace rimeward {

// Thread-safe; lives as long as the program.
LogSink console_log();

}  // namespace rimeward
