// Runs rimewardd for what needs the broker, which this program does not link.

#pragma once

#include <functional>
#include <string>
#include <string_view>
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

// What to do with a rimewardd while it runs.
struct Following {
  // Given each line as it comes, without its newline, in the place of DaemonRun::lines.
  std::function<void(std::string_view line)> line;
  // Called whenever what has come is told; waits for a while itself. False: the daemon is
  // asked to end (SIGTERM), and what it still prints is told.
  std::function<bool()> go_on;
};

// As run_daemon(). When `with` throws, the daemon is ended first.
DaemonRun follow_daemon(const std::vector<std::string>& arguments, const Following& with);

}  // namespace rimeward
