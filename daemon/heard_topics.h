// The topics that are heard and belong to no sensor, so that the terminal can show how to
// adopt them. Bounded: topics and payloads are chosen by outsiders. No locking.

#pragma once

#include <cstddef>
#include <map>
#include <string>

#include "daemon/base/arrival.h"
#include "daemon/store/store.h"

namespace rimeward {

class HeardTopics {
 public:
  static constexpr std::size_t kMost = 200;
  static constexpr std::size_t kLongestTopic = 256;  // bytes; a longer one is not noted
  static constexpr std::size_t kLongestPayload = 4096;  // bytes; of more the beginning
  // A topic is noted at most this often, to spare the card.
  static constexpr std::chrono::minutes kEvery{10};

  explicit HeardTopics(const Store& store);

  void note(const Arrival& arrival, Changes& changes);

 private:
  bool make_room(Instant now, Changes& changes);

  std::map<std::string, HeardRow> rows_;
};

}  // namespace rimeward
