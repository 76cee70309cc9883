// The service manager and its watchdog, told how the daemon is. For the main thread
// alone.

#pragma once

#include <chrono>
#include <string>
#include <string_view>

namespace rimeward {

// Speaks the protocol of sd_notify(3): a datagram to the socket that $NOTIFY_SOCKET
// names, a path or, after "@", an abstract name. Does nothing without one, nor where
// sending fails: a daemon that nobody watches must run all the same. By itself and not by
// libsystemd, which would bring seven further libraries, a megabyte, into the board's
// memory.
class Supervisor {
 public:
  // Reads the environment, which is told to no child (daemon/delivery/child.cc).
  Supervisor();

  void ready();
  void reloading();
  void stopping();
  void feed();  // the watchdog
  // A line for `systemctl status`; said again only when it is another.
  void status(const std::string& line);

  // A third of the watchdog's patience, a second at most and without a watchdog.
  std::chrono::milliseconds feed_every() const { return feed_every_; }

 private:
  void tell(std::string_view state) const;

  std::string socket_;  // empty: there is none
  std::chrono::milliseconds feed_every_;
  std::string status_;
};

}  // namespace rimeward
