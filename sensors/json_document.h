// JSON (RFC 8259) as payloads hold it, for the formats that read it. Pure.
//
// Of this folder's .cc files only: it includes the JSON library, which nothing above
// sensors may see through a header.

#pragma once

#include <optional>
#include <span>
#include <string>
#include <string_view>

#include <nlohmann/json.hpp>

#include "sensors/result.h"
#include "sensors/units.h"

namespace rimeward {

// The document in `payload`, which is all of it. Refused: what payload_fits() refuses,
// what is nested more than 32 deep, and what is not JSON, with the byte where it stops
// being so. Of a key that stands twice in an object the last counts.
Result<nlohmann::json> parsed_json(std::string_view payload);

// The value under `key`, which may be null. nullptr: there is none, or `object` is no
// object. The result lives as long as the document.
const nlohmann::json* member(const nlohmann::json& object, std::string_view key);

// The value that a pointer (RFC 6901) leads to, or nullptr; null counts as no value.
// Refused: what is no pointer. The result lives as long as the document.
Result<const nlohmann::json*> value_at(const nlohmann::json& root,
                                       std::string_view pointer);

// A finite number, also one in a string.
std::optional<double> number_in(const nlohmann::json& value);

// A time with an offset, or Unix time in seconds or milliseconds, also in a string.
std::optional<Instant> instant_in(const nlohmann::json& value);

// A value that some key leads to, where nobody has said in which place.
struct FoundValue {
  const nlohmann::json* value = nullptr;  // nullptr: none
  std::string_view key{};                 // that it stands under
  bool ambiguous = false;                 // several of the objects within have one
};

// The value under the first of `keys` that has one which `usable` accepts, in `object`
// itself.
FoundValue value_under(const nlohmann::json& object,
                       std::span<const std::string_view> keys,
                       bool (*usable)(const nlohmann::json&));

// Likewise in `root`; else in the objects directly within it, if in one alone; one called
// "forecast" is passed over: what it tells was not measured.
FoundValue value_near(const nlohmann::json& root, std::span<const std::string_view> keys,
                      bool (*usable)(const nlohmann::json&));

// A value as errors show it: `"ok"` escaped and cut, `21.5`, `true`, `an object`.
std::string shown(const nlohmann::json& value);

// The keys of an object, as errors list them: `{air, state}`, escaped and cut.
std::string shown_keys(const nlohmann::json& object);

}  // namespace rimeward
