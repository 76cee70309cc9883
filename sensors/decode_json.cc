// A JSON object (RFC 8259) with a value for each channel: where the sensor's owner gave
// pointers (RFC 6901), at these; else under the keys that makers usually choose, at the
// top of the object or in one of the objects within it.
//
// What the owner pointed at must be usable, or the message is refused and says why. What
// was only found by its key is passed over when it is not: a battery that reports "ok"
// must not cost the temperature beside it.

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <optional>
#include <string>
#include <utility>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "sensors/decoders.h"
#include "sensors/escape.h"
#include "sensors/iso_time.h"
#include "sensors/json_pointer.h"
#include "sensors/number.h"

namespace rimeward {
namespace {

using nlohmann::json;

constexpr int kDeepest = 32;
// Unix time is in milliseconds when the number is too large for seconds: 1e11 s is the
// year 5138, 1e11 ms the year 1973.
constexpr double kMilliseconds = 1e11;
constexpr double kEndOfYear9999 = 253'402'300'799;
constexpr std::array<std::string_view, 4> kTimeKeys{"time", "timestamp", "measured_at",
                                                    "ts"};

// Brackets open at once, not counting those in strings. Counted before parsing: a value
// of 65,536 brackets would be built, and taken down, level by level.
int depth_of(std::string_view text) {
  int depth = 0;
  int deepest = 0;
  bool in_string = false;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const char letter = text[i];
    if (in_string) {
      if (letter == '\\') ++i;
      in_string = letter != '"';
    } else if (letter == '"') {
      in_string = true;
    } else if (letter == '[' || letter == '{') {
      deepest = std::max(deepest, ++depth);
    } else if (letter == ']' || letter == '}') {
      --depth;
    }
  }
  return deepest;
}

// `byte` counts from 1; it may be one past the end, where more was wanted.
Error not_json(std::string_view payload, std::size_t byte) {
  const std::size_t at = std::clamp<std::size_t>(byte, 1, payload.size());
  const std::size_t before = std::min<std::size_t>(at, 10);
  return {fmt::format("not JSON: byte {} of {}, near \"{}\"", at, payload.size(),
                      escaped(payload.substr(at - before), 20))};
}

Result<json> parsed(std::string_view payload) {
  if (const auto fits = payload_fits(payload); !fits) return refuse(fits.error().message);
  if (depth_of(payload) > kDeepest) {
    return refuse(fmt::format("nested more than {} deep", kDeepest));
  }
  // The parser takes a NUL for the end and would not look at what follows it.
  const std::size_t nul = payload.find('\0');
  if (nul != std::string_view::npos) return tl::unexpected(not_json(payload, nul + 1));
  try {
    return json::parse(payload);
  } catch (const json::parse_error& fault) {
    return tl::unexpected(not_json(payload, fault.byte));
  } catch (const json::exception&) {
    return refuse("not JSON that can be read: a number beyond all range");
  }
}

// RFC 6901 section 4: an index is "0" or digits without a leading zero.
const json* element(const json& array, const std::string& token) {
  const bool digits =
      !token.empty() && token.size() <= 6 &&
      std::ranges::all_of(token, [](char c) { return c >= '0' && c <= '9'; });
  if (!digits || (token.size() > 1 && token[0] == '0')) return nullptr;
  const std::size_t index = std::stoul(token);
  return index < array.size() ? &array[index] : nullptr;
}

const json* member(const json& object, std::string_view key) {
  const auto found = object.find(key);
  return found == object.end() ? nullptr : &*found;
}

// The value that the tokens lead to, or nullptr; null counts as no value.
const json* value_at(const json& root, const std::vector<std::string>& tokens) {
  const json* value = &root;
  for (const std::string& token : tokens) {
    if (value->is_object()) {
      value = member(*value, token);
    } else if (value->is_array()) {
      value = element(*value, token);
    } else {
      value = nullptr;
    }
    if (value == nullptr) return nullptr;
  }
  return value->is_null() ? nullptr : value;
}

std::string shown(const json& value) {
  if (value.is_object()) return "an object";
  if (value.is_array()) return "an array";
  if (value.is_string()) {
    return fmt::format("\"{}\"", escaped(value.get_ref<const std::string&>()));
  }
  return value.dump();  // true, false, null or a number
}

// A finite number, also one in a string.
std::optional<double> number_in(const json& value) {
  if (value.is_number()) {
    const auto number = value.get<double>();
    return std::isfinite(number) ? std::optional(number) : std::nullopt;
  }
  if (!value.is_string()) return std::nullopt;
  const std::string_view text = trimmed(value.get_ref<const std::string&>());
  const LeadingNumber number = leading_number(text);
  if (number.fault != NumberFault::kNone || number.length != text.size()) {
    return std::nullopt;
  }
  return number.value;
}

// A time with an offset, or Unix time, also in a string.
std::optional<Instant> instant_in(const json& value) {
  if (value.is_string()) {
    if (const auto at = parse_instant(value.get_ref<const std::string&>())) return at;
  }

  auto seconds = number_in(value);
  if (!seconds || *seconds < 0) return std::nullopt;
  if (*seconds > kMilliseconds) *seconds /= 1000;
  if (*seconds > kEndOfYear9999) return std::nullopt;
  const auto whole = static_cast<std::int64_t>(std::floor(*seconds));
  return Instant{std::chrono::seconds{whole}};
}

// The first value under one of `keys` that `usable` accepts. nullptr: none.
template <class Usable>
const json* value_under(const json& object, std::span<const std::string_view> keys,
                        const Usable& usable) {
  for (const std::string_view key : keys) {
    const json* value = member(object, key);
    if (value != nullptr && usable(*value)) return value;
  }
  return nullptr;
}

struct Guess {
  const json* value = nullptr;
  bool ambiguous = false;  // several of the objects within have one
};

// At the top of the object first; else in the objects within it, if in one alone.
template <class Usable>
Guess guess(const json& root, std::span<const std::string_view> keys,
            const Usable& usable) {
  if (const json* value = value_under(root, keys, usable)) return {value, false};
  Guess found;
  for (const json& inner : root) {
    if (!inner.is_object()) continue;
    const json* value = value_under(inner, keys, usable);
    if (value == nullptr) continue;
    if (found.value != nullptr) return {nullptr, true};
    found.value = value;
  }
  return found;
}

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

Result<std::vector<Sample>> samples_at(const json& root, const PayloadSpec& spec) {
  std::vector<Sample> samples;
  for (const auto& [channel, pointer] : spec.pointers) {
    const auto tokens = pointer_tokens(pointer);
    if (!tokens)
      return refuse(fmt::format("\"{}\" is no JSON pointer", escaped(pointer)));
    const json* value = value_at(root, *tokens);
    if (value == nullptr) continue;
    const auto number = number_in(*value);
    if (!number) {
      return refuse(fmt::format("at \"{}\": expected a number, got {}",
                                escaped(pointer, 80), shown(*value)));
    }
    samples.push_back({channel, *number});
  }
  if (!samples.empty()) return samples;
  const std::string& first = spec.pointers.begin()->second;
  return refuse(fmt::format("nothing at \"{}\"{}", escaped(first, 80),
                            spec.pointers.size() > 1 ? " nor at any other pointer" : ""));
}

// What is wrong under the usual keys of `channel`; nothing when none is there.
std::optional<Error> fault_of(const json& root, const ChannelTraits& channel) {
  if (guess(root, channel.usual_keys, is_number).ambiguous) {
    return Error{
        fmt::format("{} stands in several places: say which by a pointer", channel.name)};
  }
  const json* value = value_under(root, channel.usual_keys, is_unusable);
  if (value == nullptr) return std::nullopt;
  const auto key = std::ranges::find_if(channel.usual_keys, [&](std::string_view name) {
    return member(root, name) == value;
  });
  return Error{fmt::format("at \"/{}\": expected a number, got {}", *key, shown(*value))};
}

// Why no usual key of any channel led to a number.
Error nothing_found(const json& root) {
  for (const ChannelTraits& channel : all_channels()) {
    if (auto fault = fault_of(root, channel)) return *std::move(fault);
  }
  std::string keys;
  for (const auto& [key, value] : root.items()) {
    keys += keys.empty() ? key : ", " + key;
    if (keys.size() > 200) break;
  }
  return {
      fmt::format("none of the usual keys in {{{}}}: give pointers", escaped(keys, 80))};
}

Result<std::vector<Sample>> usual_samples(const json& root) {
  if (!root.is_object()) {
    return refuse(fmt::format("expected an object, got {}", shown(root)));
  }
  std::vector<Sample> samples;
  for (const ChannelTraits& channel : all_channels()) {
    const Guess found = guess(root, channel.usual_keys, is_number);
    const auto number = found.value == nullptr ? std::nullopt : number_in(*found.value);
    if (number) samples.push_back({channel.channel, *number});
  }
  if (samples.empty()) return tl::unexpected(nothing_found(root));
  return samples;
}

Result<std::optional<Instant>> measured_at(const json& root, const PayloadSpec& spec) {
  if (!spec.time_pointer) {
    if (!root.is_object()) return std::nullopt;
    const Guess found = guess(root, kTimeKeys, is_instant);
    return found.value == nullptr ? std::nullopt : instant_in(*found.value);
  }
  const auto tokens = pointer_tokens(*spec.time_pointer);
  if (!tokens) {
    return refuse(fmt::format("\"{}\" is no JSON pointer", escaped(*spec.time_pointer)));
  }
  const json* value = value_at(root, *tokens);
  if (value == nullptr) return std::nullopt;
  const auto at = instant_in(*value);
  if (at) return at;
  return refuse(
      fmt::format("at \"{}\": expected a time such as \"2026-04-12T18:03:20Z\" "
                  "or unix seconds, got {}",
                  escaped(*spec.time_pointer, 80), shown(*value)));
}

}  // namespace

Result<Decoded> decode_json(std::string_view payload, const PayloadSpec& spec) {
  const Result<json> root = parsed(payload);
  if (!root) return tl::unexpected(root.error());
  auto samples = spec.pointers.empty() ? usual_samples(*root) : samples_at(*root, spec);
  if (!samples) return tl::unexpected(samples.error());
  const auto at = measured_at(*root, spec);
  if (!at) return tl::unexpected(at.error());
  return Decoded{.samples = std::move(*samples), .measured_at = *at};
}

}  // namespace rimeward
