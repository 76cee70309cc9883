// A JSON object (RFC 8259) with a value for each channel: where the sensor's owner gave
// pointers (RFC 6901), at these; else under the keys that makers usually choose, at the
// top of the object or in one of the objects within it.
//
// What the owner pointed at must be usable, or the message is refused and says why. What
// was only found by its key is passed over when it is not: a battery that reports "ok"
// must not cost the temperature beside it.
//
// A temperature is on the scale that its owner gave, or that its key says:
// "temperature_F" is in degrees Fahrenheit. What says Celsius counts before what says
// Fahrenheit.

#include <array>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "sensors/channel_units.h"
#include "sensors/decoders.h"
#include "sensors/escape.h"
#include "sensors/json_document.h"

namespace rimeward {
namespace {

using nlohmann::json;

constexpr std::array<std::string_view, 4> kTimeKeys{"time", "timestamp", "measured_at",
                                                    "ts"};

bool is_number(const json& value) {
  return number_in(value).has_value();
}

bool is_instant(const json& value) {
  return instant_in(value).has_value();
}

// A scalar that a message meant as a value, though it is no number: worth naming in an
// error when there is nothing better.
bool is_unusable(const json& value) {
  return value.is_boolean() || value.is_string();
}

// `key` is that under which the number stands.
Result<Sample> sample_of(Channel channel, double number, std::string_view key,
                         const PayloadSpec& spec) {
  const auto value = in_unit_of(channel, {number, unit_said_by(key, channel)},
                                UnitNotation::kHomie, spec.scale);
  if (!value) return tl::unexpected(value.error());
  return Sample{channel, *value};
}

// The last key that a pointer leads through, as far as it needs no unescaping.
std::string_view last_key(std::string_view pointer) {
  return pointer.substr(pointer.rfind('/') + 1);
}

Result<std::vector<Sample>> samples_at(const json& root, const PayloadSpec& spec) {
  std::vector<Sample> samples;
  for (const auto& [channel, pointer] : spec.where) {
    const auto value = value_at(root, pointer);
    if (!value) return tl::unexpected(value.error());
    if (*value == nullptr) continue;
    const auto number = number_in(**value);
    if (!number) {
      return refuse(fmt::format("at \"{}\": expected a number, got {}",
                                escaped(pointer, 80), shown(**value)));
    }
    const auto sample = sample_of(channel, *number, last_key(pointer), spec);
    if (!sample) return tl::unexpected(sample.error());
    samples.push_back(*sample);
  }
  if (!samples.empty()) return samples;
  const std::string& first = spec.where.begin()->second;
  return refuse(fmt::format("nothing at \"{}\"{}", escaped(first, 80),
                            spec.where.size() > 1 ? " nor at any other pointer" : ""));
}

// What is wrong under the usual keys of `channel`; nothing when none is there.
std::optional<Error> fault_of(const json& root, const ChannelTraits& channel) {
  if (value_near(root, channel.usual_keys, is_number).ambiguous) {
    return Error{
        fmt::format("{} stands in several places: say which by a pointer", channel.name)};
  }
  const FoundValue found = value_under(root, channel.usual_keys, is_unusable);
  if (found.value == nullptr) return std::nullopt;
  return Error{fmt::format("at \"/{}\": expected a number, got {}", found.key,
                           shown(*found.value))};
}

// Why no usual key of any channel led to a number.
Error nothing_found(const json& root) {
  for (const ChannelTraits& channel : all_channels()) {
    if (auto fault = fault_of(root, channel)) return *std::move(fault);
  }
  return {fmt::format("none of the usual keys in {}: give pointers", shown_keys(root))};
}

Result<std::vector<Sample>> usual_samples(const json& root, const PayloadSpec& spec) {
  if (!root.is_object()) {
    return refuse(fmt::format("expected an object, got {}", shown(root)));
  }
  std::vector<Sample> samples;
  for (const ChannelTraits& channel : all_channels()) {
    const FoundValue found = value_near(root, channel.usual_keys, is_number);
    const auto number = found.value == nullptr ? std::nullopt : number_in(*found.value);
    if (!number) continue;
    const auto sample = sample_of(channel.channel, *number, found.key, spec);
    if (sample) samples.push_back(*sample);
  }
  if (samples.empty()) return tl::unexpected(nothing_found(root));
  return samples;
}

Result<std::optional<Instant>> measured_at(const json& root, const PayloadSpec& spec) {
  if (!spec.time_pointer) {
    if (!root.is_object()) return std::nullopt;
    const FoundValue found = value_near(root, kTimeKeys, is_instant);
    return found.value == nullptr ? std::nullopt : instant_in(*found.value);
  }
  const auto value = value_at(root, *spec.time_pointer);
  if (!value) return tl::unexpected(value.error());
  if (*value == nullptr) return std::nullopt;
  const auto at = instant_in(**value);
  if (at) return at;
  return refuse(
      fmt::format("at \"{}\": expected a time such as \"2026-04-12T18:03:20Z\" "
                  "or unix seconds, got {}",
                  escaped(*spec.time_pointer, 80), shown(**value)));
}

}  // namespace

Result<Decoded> decode_json(const Payload& payload, const PayloadSpec& spec,
                            const Facts& /*known*/) {
  const Result<json> root = parsed_json(payload.bytes);
  if (!root) return tl::unexpected(root.error());
  auto samples =
      spec.where.empty() ? usual_samples(*root, spec) : samples_at(*root, spec);
  if (!samples) return tl::unexpected(samples.error());
  const auto at = measured_at(*root, spec);
  if (!at) return tl::unexpected(at.error());
  for (Sample& sample : *samples)
    sample.measured_at = *at;
  return Decoded{.samples = std::move(*samples)};
}

}  // namespace rimeward
