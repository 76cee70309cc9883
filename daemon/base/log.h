// Where the daemon's log lines go, and how a line that would repeat is kept from filling
// a card. The sink is given from outside: the daemon prints, a rehearsal is quiet.

#pragma once

#include <chrono>
#include <functional>
#include <map>
#include <optional>
#include <string>

#include "sensors/units.h"

namespace rimeward {

enum class LogLevel {
  kInfo,     // start, stop, connect, raise, clear
  kWarning,  // look when you can
  kError,    // a person must act
};

using LogSink = std::function<void(LogLevel, const std::string&)>;

// Lets the first line of a kind through, then one each while with the number held back.
// Not thread-safe.
class RepeatLimit {
 public:
  explicit RepeatLimit(std::chrono::seconds quiet = std::chrono::hours{1})
      : quiet_(quiet) {}

  // The line to log, or nothing when it is to be held back. `key` tells kinds apart.
  std::optional<std::string> pass(const std::string& key, const std::string& line,
                                  Instant now);

  // The matter is over: the next line of any kind is news.
  void forget() { seen_.clear(); }

 private:
  struct Seen {
    Instant logged;
    int held_back = 0;
  };
  std::chrono::seconds quiet_;
  // Bounded: topics are chosen by outsiders.
  std::map<std::string, Seen> seen_;
};

}  // namespace rimeward
