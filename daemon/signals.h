// What comes from outside the program and is neither a reading nor an action: signals.
// For the main thread alone.

#pragma once

#include <chrono>

namespace rimeward {

// SIGTERM, SIGINT and SIGHUP as values. They are blocked from here on in this thread and
// in all that it starts, so make it before any other thread; SIGPIPE is ignored.
class Signals {
 public:
  Signals();  // throws std::runtime_error when the system has no descriptor left
  ~Signals();
  Signals(const Signals&) = delete;
  Signals& operator=(const Signals&) = delete;

  enum class Kind { kNone, kStop, kReload };
  // The next signal, or kNone after `patience`.
  Kind wait(std::chrono::milliseconds patience);

 private:
  int descriptor_;
};

}  // namespace rimeward
