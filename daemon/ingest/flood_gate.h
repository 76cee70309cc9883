// Keeps one topic that floods from starving the others: what is more than any sensor
// needs to send is dropped before it is spooled, and counted. Thread-safe: Paho's thread
// asks to be let through, the loop fetches the counts. Time is passed in, of a clock that
// only grows.

#pragma once

#include <chrono>
#include <cstddef>
#include <cstdint>
#include <mutex>
#include <string>
#include <unordered_map>
#include <vector>

#include "daemon/base/doubt.h"

namespace rimeward {

// Messages of a topic that were dropped.
struct Excess {
  std::string topic;  // empty: of topics that share a bucket
  Doubt why{};        // kFlood or kRedelivered
  std::int64_t count = 0;
  // kFlood: those since the last line in the log, when a line is due; 0: none is.
  std::int64_t to_log = 0;
};

class FloodGate {
 public:
  using Time = std::chrono::steady_clock::time_point;

  // A bucket for each topic: a week's backlog of a reading a minute passes at once, and
  // from then on five messages a second.
  static constexpr std::int64_t kAtOnce = 20'000;
  static constexpr std::int64_t kEachSecond = 5;
  // More topics, and topics longer than that, share one bucket.
  static constexpr std::size_t kMostTopics = 2'000;
  static constexpr std::size_t kLongestTopic = 256;

  // False: too much, drop it; it has been counted.
  [[nodiscard]] bool admit(const std::string& topic, Time now) noexcept;

  // A second delivery of what is held already was dropped.
  void count_redelivered(const std::string& topic) noexcept;

  // What is to be told now: of each topic the first excess at once, then what came in
  // each minute; a line in the log at once, then each hour. By topic.
  std::vector<Excess> due(Time now);
  // The same without waiting for the minute, when the program ends.
  std::vector<Excess> rest(Time now);

 private:
  struct Bucket {
    Time full_at{};  // every message moves this on; far ahead: too many
    std::int64_t flood = 0;
    std::int64_t redelivered = 0;
    std::int64_t unlogged = 0;  // of the flood
    Time tell_at{};
    Time log_at{};
  };
  using Buckets = std::unordered_map<std::string, Bucket>;

  Bucket& bucket_of(const std::string& topic, Time now);
  void forget_the_idle(Time now);
  std::vector<Excess> take(Time now, bool all);
  void tell(const std::string& topic, Bucket& bucket, Time now,
            std::vector<Excess>& told);

  std::mutex mutex_;
  // Guarded by mutex_.
  Buckets buckets_;  // the shared one by the empty topic, which MQTT does not have
  Time swept_at_{};
  bool any_ = false;  // something is to be told
};

}  // namespace rimeward
