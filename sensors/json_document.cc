#include "sensors/json_document.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdint>

#include <fmt/format.h>

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
constexpr double kEnd = kEndOfInstants.time_since_epoch().count();

// What stands under such a name was not measured, whatever its keys are called.
constexpr std::string_view kOpinion = "forecast";

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

// RFC 6901 section 4: an index is "0" or digits without a leading zero.
const json* element(const json& array, const std::string& token) {
  const bool digits =
      !token.empty() && token.size() <= 6 &&
      std::ranges::all_of(token, [](char c) { return c >= '0' && c <= '9'; });
  if (!digits || (token.size() > 1 && token[0] == '0')) return nullptr;
  const std::size_t index = std::stoul(token);
  return index < array.size() ? &array[index] : nullptr;
}

}  // namespace

Result<json> parsed_json(std::string_view payload) {
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

const json* member(const json& object, std::string_view key) {
  const auto found = object.find(key);
  return found == object.end() ? nullptr : &*found;
}

Result<const json*> value_at(const json& root, std::string_view pointer) {
  const auto tokens = pointer_tokens(pointer);
  if (!tokens) return refuse(fmt::format("\"{}\" is no JSON pointer", escaped(pointer)));
  const json* value = &root;
  for (const std::string& token : *tokens) {
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

std::optional<Instant> instant_in(const json& value) {
  if (value.is_string()) {
    if (const auto at = parse_instant(value.get_ref<const std::string&>())) return at;
  }
  auto seconds = number_in(value);
  if (!seconds || *seconds < 0) return std::nullopt;
  if (*seconds > kMilliseconds) *seconds /= 1000;
  if (*seconds >= kEnd) return std::nullopt;
  const auto whole = static_cast<std::int64_t>(std::floor(*seconds));
  return Instant{std::chrono::seconds{whole}};
}

FoundValue value_under(const json& object, std::span<const std::string_view> keys,
                       bool (*usable)(const json&)) {
  for (const std::string_view key : keys) {
    const json* value = member(object, key);
    if (value != nullptr && usable(*value)) return {.value = value, .key = key};
  }
  return {};
}

FoundValue value_near(const json& root, std::span<const std::string_view> keys,
                      bool (*usable)(const json&)) {
  if (const auto found = value_under(root, keys, usable); found.value) return found;
  FoundValue found;
  for (const auto& [name, inner] : root.items()) {
    if (!inner.is_object() || name == kOpinion) continue;
    const FoundValue within = value_under(inner, keys, usable);
    if (within.value == nullptr) continue;
    if (found.value != nullptr) return {.ambiguous = true};
    found = within;
  }
  return found;
}

std::string shown(const json& value) {
  if (value.is_object()) return "an object";
  if (value.is_array()) return "an array";
  if (value.is_string()) {
    return fmt::format("\"{}\"", escaped(value.get_ref<const std::string&>()));
  }
  return value.dump();  // true, false, null or a number
}

std::string shown_keys(const json& object) {
  std::string keys;
  for (const auto& [key, value] : object.items()) {
    keys += keys.empty() ? key : ", " + key;
    if (keys.size() > 200) break;
  }
  return fmt::format("{{{}}}", escaped(keys, 80));
}

}  // namespace rimeward
