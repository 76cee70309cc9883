#include "daemon/ingest/flood_gate.h"

#include <algorithm>
#include <utility>

namespace rimeward {
namespace {

using namespace std::chrono_literals;

constexpr auto kTellEvery = 1min;
constexpr auto kLogEvery = 1h;
constexpr auto kSweepEvery = 1min;
constexpr std::chrono::milliseconds kForOne{1000 / FloodGate::kEachSecond};
constexpr std::chrono::milliseconds kDepth = kForOne * FloodGate::kAtOnce;

const std::string kShared;

}  // namespace

bool FloodGate::admit(const std::string& topic, Time now) noexcept {
  try {
    const std::lock_guard lock(mutex_);
    Bucket& bucket = bucket_of(topic, now);
    const Time full_at = std::max(bucket.full_at, now) + kForOne;
    if (full_at - now <= kDepth) {
      bucket.full_at = full_at;
      return true;
    }
    ++bucket.flood;
    ++bucket.unlogged;
    any_ = true;
    return false;
  } catch (...) {
    return true;  // without memory to count in, nothing is dropped
  }
}

void FloodGate::count_redelivered(const std::string& topic) noexcept {
  try {
    const std::lock_guard lock(mutex_);
    const auto found = buckets_.find(topic);
    Bucket& bucket = found != buckets_.end() ? found->second : buckets_[kShared];
    ++bucket.redelivered;
    any_ = true;
  } catch (...) {
    return;  // uncounted
  }
}

FloodGate::Bucket& FloodGate::bucket_of(const std::string& topic, Time now) {
  if (const auto found = buckets_.find(topic); found != buckets_.end()) {
    return found->second;
  }
  if (buckets_.size() >= kMostTopics) forget_the_idle(now);
  const bool shares = buckets_.size() >= kMostTopics || topic.size() > kLongestTopic;
  return buckets_[shares ? kShared : topic];
}

// A full bucket that has nothing to tell is as good as a new one.
void FloodGate::forget_the_idle(Time now) {
  if (now - swept_at_ < kSweepEvery) return;
  swept_at_ = now;
  std::erase_if(buckets_, [now](const Buckets::value_type& one) {
    const Bucket& bucket = one.second;
    return bucket.full_at <= now && bucket.flood == 0 && bucket.redelivered == 0 &&
           bucket.unlogged == 0 && bucket.tell_at <= now && bucket.log_at <= now;
  });
}

std::vector<Excess> FloodGate::due(Time now) {
  return take(now, false);
}

std::vector<Excess> FloodGate::rest(Time now) {
  return take(now, true);
}

std::vector<Excess> FloodGate::take(Time now, bool all) {
  const std::lock_guard lock(mutex_);
  std::vector<Excess> told;
  if (!std::exchange(any_, false)) return told;
  for (auto& [topic, bucket] : buckets_) {
    if (bucket.flood + bucket.redelivered + bucket.unlogged == 0) continue;
    if (all || bucket.tell_at <= now) tell(topic, bucket, now, told);
    any_ = any_ || bucket.flood + bucket.redelivered + bucket.unlogged > 0;
  }
  std::ranges::sort(told, {},
                    [](const Excess& one) { return std::pair(one.topic, one.why); });
  return told;
}

void FloodGate::tell(const std::string& topic, Bucket& bucket, Time now,
                     std::vector<Excess>& told) {
  const std::size_t before = told.size();
  std::int64_t to_log = 0;
  if (bucket.unlogged > 0 && bucket.log_at <= now) {
    to_log = std::exchange(bucket.unlogged, 0);
    bucket.log_at = now + kLogEvery;
  }
  const std::int64_t flood = std::exchange(bucket.flood, 0);
  if (flood > 0 || to_log > 0) told.push_back({topic, Doubt::kFlood, flood, to_log});
  const std::int64_t redelivered = std::exchange(bucket.redelivered, 0);
  if (redelivered > 0) told.push_back({topic, Doubt::kRedelivered, redelivered, 0});
  if (told.size() > before) bucket.tell_at = now + kTellEvery;
}

}  // namespace rimeward
