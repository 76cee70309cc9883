#include "sensors/recognise.h"

#include <algorithm>
#include <optional>
#include <utility>

namespace rimeward {
namespace {

char lower(char c) {
  return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
}

bool same_in_any_case(std::string_view one, std::string_view other) {
  return std::ranges::equal(one, other, {}, lower, lower);
}

std::string_view unit_of(TemperatureScale scale) {
  return scale == TemperatureScale::kFahrenheit ? "°F" : "°C";
}

bool names(std::string_view level, const ChannelTraits& channel, TemperatureScale scale) {
  if (same_in_any_case(level, channel.name)) return true;
  return std::ranges::any_of(channel.usual_keys, [&](std::string_view key) {
    if (key.size() == 1 || !same_in_any_case(level, key)) return false;
    const std::string_view unit = unit_said_by(key, channel.channel);
    return unit.empty() || unit == unit_of(scale);
  });
}

std::optional<Channel> channel_of(std::string_view topic, TemperatureScale scale) {
  const std::string_view level = topic.substr(topic.rfind('/') + 1);
  const auto all = all_channels();
  const auto found = std::ranges::find_if(
      all, [&](const ChannelTraits& channel) { return names(level, channel, scale); });
  if (found == all.end()) return std::nullopt;
  return found->channel;
}

bool is_number(const Payload& payload) {
  PayloadSpec of_any;
  of_any.lone_channel = Channel::kAirTemperature;
  return decode_number(payload, of_any, {}).has_value();
}

}  // namespace

Recognition recognise(std::string_view topic, const Payload& payload,
                      const PayloadSpec& spec, const Facts& known) {
  Recognition seen;
  for (const Decoder& decoder : all_decoders()) {
    if (decoder.spans_topics == payload.below.empty()) continue;
    PayloadSpec its = spec;
    if (decoder.decode == &decode_number && !its.lone_channel) {
      its.lone_channel = channel_of(topic, spec.scale);
      seen.bare_number = !its.lone_channel && is_number(payload);
    }
    auto decoded = decoder.decode(payload, its, known);
    if (!decoded || (decoded->samples.empty() && decoded->facts.empty())) continue;
    seen.ways.push_back({&decoder, std::move(its), *std::move(decoded)});
  }
  return seen;
}

}  // namespace rimeward
