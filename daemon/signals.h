// What comes from outside the program and is neither a reading nor an action: signals,
// and the service manager's watchdog. For the main thread alone.

#pragma once

#include <chrono>
#include <optional>
#include <string>

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

// The service manager, told by sd_notify(3) how the daemon is. Does nothing without one.
class Supervisor {
 public:
  Supervisor();

  void ready();
  void reloading();
  void stopping();
  void feed();  // the watchdog
  // A line for `systemctl status`; said again only when it is another.
  void status(const std::string& line);

  // A third of the watchdog's patience; a second without a watchdog.
  std::chrono::milliseconds feed_every() const { return feed_every_; }

 private:
  std::chrono::milliseconds feed_every_;
  std::string status_;
};

}  // namespace rimeward
