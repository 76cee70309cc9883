// Runs rimewardd for what needs the broker, which this program does not link.

#pragma once

#include <string>
#include <vector>

namespace rimeward {

struct DaemonRun {
  bool found = false;
  bool well = false;               // it ended by itself, with exit status 0
  std::vector<std::string> lines;  // all that it printed, on stdout and stderr
};

// Runs the rimewardd that stands beside this program, else the first one on PATH, with
// these arguments, and waits for its end. Throws std::system_error where the machine has
// no process or pipe left.
DaemonRun run_daemon(const std::vector<std::string>& arguments);

}  // namespace rimeward
