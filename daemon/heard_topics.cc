#include "daemon/heard_topics.h"

#include <algorithm>
#include <chrono>

namespace rimeward {
namespace {

// With every place taken, a topic that was not heard for so long makes room for another.
constexpr std::chrono::hours kForgotten{24};

}  // namespace

HeardTopics::HeardTopics(const Store& store) {
  for (HeardRow& row : store.heard())
    rows_.emplace(row.topic, row);
}

void HeardTopics::note(const Arrival& arrival, Changes& changes) {
  if (arrival.topic.size() > kLongestTopic) return;
  auto found = rows_.find(arrival.topic);
  if (found == rows_.end()) {
    if (rows_.size() >= kMost && !make_room(arrival.at, changes)) return;
    const HeardRow first{.topic = arrival.topic, .first_at = arrival.at};
    found = rows_.emplace(arrival.topic, first).first;
  } else if (arrival.at - found->second.last_at < kEvery) {
    return;
  }
  HeardRow& row = found->second;
  row.last_at = std::max(row.last_at, arrival.at);
  ++row.count;
  row.payload = arrival.payload.substr(0, kLongestPayload);
  changes.heard[row.topic] = row;
}

bool HeardTopics::make_room(Instant now, Changes& changes) {
  const auto oldest = std::ranges::min_element(
      rows_, {}, [](const auto& one) { return one.second.last_at; });
  if (now - oldest->second.last_at < kForgotten) return false;
  changes.heard[oldest->first] = std::nullopt;
  rows_.erase(oldest);
  return true;
}

}  // namespace rimeward
