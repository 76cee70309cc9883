#include "tools/cli/adoption_homie.h"

#include <algorithm>
#include <array>
#include <optional>
#include <utility>

#include <fmt/format.h>

namespace rimeward {
namespace {

// Below the device itself, in the convention's versions 4 and 5; and below a node.
constexpr std::array<std::string_view, 4> kOfDevice{"/$description", "/$homie", "/$nodes",
                                                    "/$state"};
constexpr std::string_view kOfNode = "/$properties";

// The device's topic, where this one tells that there is a device; empty where not.
std::string_view device_told_by(std::string_view topic) {
  for (const std::string_view ending : kOfDevice) {
    if (topic.ends_with(ending)) return topic.substr(0, topic.size() - ending.size());
  }
  if (!topic.ends_with(kOfNode)) return {};
  const std::string_view node = topic.substr(0, topic.size() - kOfNode.size());
  const std::size_t slash = node.rfind('/');
  return slash == std::string_view::npos ? std::string_view{} : node.substr(0, slash);
}

bool is_below(std::string_view topic, std::string_view device) {
  return topic.size() > device.size() && topic.starts_with(device) &&
         topic[device.size()] == '/';
}

// Facts of one property, so that it is read whatever others the device has; and those of
// the device itself.
Facts facts_about(std::string_view property, const Facts& known) {
  Facts about;
  for (const auto& [name, value] : known) {
    if (is_below(name, property) || name.starts_with('$')) about.emplace(name, value);
  }
  return about;
}

struct Heard {
  std::string_view below;
  std::string_view payload;
};

class Device {
 public:
  Device(const Decoder& decoder, std::vector<Heard> heard)
      : decoder_(decoder), heard_(std::move(heard)) {
    for (const Heard& each : heard_) {
      if (each.below.find('$') == std::string_view::npos) continue;
      const auto told = decoder_.decode({each.payload, each.below}, {}, known_);
      if (!told) continue;
      for (const auto& [name, value] : told->facts)
        known_.insert_or_assign(name, value);
    }
  }

  Way way() const {
    Way way{.format = decoder_.name};
    bool twice = false;
    for (const Heard& each : heard_) {
      const auto sample = value_of(each);
      if (!sample) continue;
      twice = twice || std::ranges::find(way.samples, sample->channel,
                                         &Sample::channel) != way.samples.end();
      way.samples.push_back(*sample);
      way.numbers.push_back(
          {std::string(each.below), sample->value, std::optional(sample->channel)});
    }
    // Only where one channel is measured by several must its owner say by which.
    if (!twice) way.numbers.clear();
    return way;
  }

 private:
  std::optional<Sample> value_of(const Heard& heard) const {
    if (heard.below.find('$') != std::string_view::npos) return std::nullopt;
    const auto read = decoder_.decode({heard.payload, heard.below}, {},
                                      facts_about(heard.below, known_));
    if (!read || read->samples.empty()) return std::nullopt;
    return read->samples.front();
  }

  const Decoder& decoder_;
  std::vector<Heard> heard_;
  Facts known_;
};

}  // namespace

HomieDevices::HomieDevices(std::span<const HeardRow> heard) {
  if (find_decoder("homie") == nullptr) return;
  for (const HeardRow& row : heard) {
    const std::string_view device = device_told_by(row.topic);
    if (!device.empty()) devices_.try_emplace(std::string(device));
  }
  for (const HeardRow& row : heard) {
    const std::string_view device = device_of(row.topic);
    if (!device.empty()) devices_.find(device)->second.push_back(&row);
  }
}

bool HomieDevices::has(std::string_view topic) const {
  return !device_of(topic).empty();
}

std::string_view HomieDevices::device_of(std::string_view topic) const {
  std::string_view longest;
  for (const auto& [device, rows] : devices_) {
    if (is_below(topic, device) && device.size() > longest.size()) longest = device;
  }
  return longest;
}

std::vector<Candidate> HomieDevices::candidates() const {
  std::vector<Candidate> found;
  for (const auto& [topic, rows] : devices_) {
    if (rows.empty()) continue;
    Candidate& candidate = found.emplace_back();
    candidate.topic = topic;
    candidate.is_device = true;
    candidate.topics = static_cast<int>(rows.size());
    candidate.first_at = rows.front()->first_at;
    std::vector<Heard> heard;
    for (const HeardRow* row : rows) {
      candidate.first_at = std::min(candidate.first_at, row->first_at);
      candidate.last_at = std::max(candidate.last_at, row->last_at);
      candidate.count += row->count;
      heard.push_back(
          {std::string_view(row->topic).substr(topic.size() + 1), row->payload});
    }
    candidate.ways.push_back(Device(*find_decoder("homie"), std::move(heard)).way());
  }
  return found;
}

}  // namespace rimeward
