// How one sensor is doing: when it is heard, what of its newest messages was doubted, and
// its battery. Plain values, no locking.
//
// All of it follows from the newest readings and doubtful readings, in whatever order
// they come, so that it is the same when restored from the store.

#pragma once

#include <cstddef>
#include <map>
#include <optional>

#include "daemon/base/doubt.h"
#include "daemon/notice/situation.h"
#include "daemon/rhythm.h"
#include "sensors/channel.h"

namespace rimeward {

class Health {
 public:
  // Doubts are counted over so many of the newest messages, by the time of measurement.
  static constexpr std::size_t kMessages = 12;

  void believed(Instant at, Channel channel, double value);
  void doubted(Instant at, Channel channel, double said, Doubt doubt);

  const Rhythm& rhythm() const { return rhythm_; }
  const std::optional<Battery>& battery() const { return battery_; }
  Doubts doubts() const;

 private:
  struct Doubted {
    Doubt doubt;
    double said;
  };
  using Message = std::map<Channel, Doubted>;  // what was doubted of it

  Message* message_of(Instant at);

  Rhythm rhythm_;
  std::map<Instant, Message> messages_;  // the newest few
  std::optional<Battery> battery_;
};

}  // namespace rimeward
