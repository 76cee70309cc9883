#include "daemon/health.h"

#include <algorithm>

namespace rimeward {

void Health::believed(Instant at, Channel channel, double value) {
  if (Message* message = message_of(at)) message->erase(channel);
  const bool is_battery =
      channel == Channel::kBatteryVoltage || channel == Channel::kBatteryPercent;
  if (!is_battery) return;
  // Of a message that tells both, the percent: the sensor knows its own cells.
  const bool newer = !battery_ || battery_->at < at ||
                     (battery_->at == at && channel == Channel::kBatteryPercent);
  if (newer) battery_ = {channel, value, at};
}

void Health::doubted(Instant at, Channel channel, double said, Doubt doubt) {
  Message* message = message_of(at);
  // A check, asked for, says nothing against the sensor.
  if (message != nullptr && doubt != Doubt::kCalibration) {
    message->insert_or_assign(channel, Doubted{doubt, said});
  }
}

Health::Message* Health::message_of(Instant at) {
  rhythm_.heard(at);
  messages_.try_emplace(at);
  if (messages_.size() > kMessages) messages_.erase(messages_.begin());
  const auto found = messages_.find(at);
  return found == messages_.end() ? nullptr : &found->second;
}

Doubts Health::doubts() const {
  Doubts doubts;
  std::map<Doubt, int> counts;
  for (const auto& [at, message] : messages_) {
    ++doubts.readings;
    if (message.empty()) continue;
    const auto& [channel, doubted] = *message.begin();
    ++doubts.doubtful;
    ++counts[doubted.doubt];
  }
  const auto mostly =
      std::ranges::max_element(counts, {}, [](const auto& one) { return one.second; });
  if (mostly == counts.end()) return doubts;
  doubts.mostly = mostly->first;
  for (const auto& [at, message] : messages_) {
    if (message.empty() || message.begin()->second.doubt != doubts.mostly) continue;
    doubts.channel = message.begin()->first;
    doubts.last_said = message.begin()->second.said;
    doubts.last_at = at;
  }
  return doubts;
}

}  // namespace rimeward
