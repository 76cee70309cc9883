// Runs a program with a time limit. Thread-safe: no state.

#pragma once

#include <chrono>
#include <optional>
#include <stop_token>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace rimeward {

struct ChildOrder {
  std::vector<std::string> run;  // the program and its arguments; no shell reads them
  std::vector<std::pair<std::string, std::string>> environment;  // added to our own
  std::string_view input;                                        // its standard input
  std::chrono::milliseconds time_limit{};
};

// How it ended; of the three, one applies.
struct ChildEnd {
  int start_error = 0;     // errno: it did not start
  bool stopped = false;    // by us: time limit, or `stop` requested
  int wait_status = 0;     // as of waitpid()
  std::string last_words;  // the last line that it wrote to standard error
};

// Waits until the program ends. At the time limit, or when `stop` is requested, it and
// what it started get SIGTERM, and SIGKILL two seconds later. REQUIRES: run is not empty.
// Throws std::system_error when the machine has no descriptors left.
ChildEnd run_child(const ChildOrder& order, const std::stop_token& stop);

// Why it did not end by itself, in words that are safe to show: it was stopped, at the
// time limit or with the daemon (`leaving`), or ended by a signal. Nothing when it did,
// or did not start.
std::optional<std::string> cut_short(const ChildEnd& end, std::chrono::seconds time_limit,
                                     bool leaving);

}  // namespace rimeward
