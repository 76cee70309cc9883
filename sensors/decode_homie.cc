// The Homie convention, 4 and 5: a device publishes each of its properties on a topic of
// its own, "node/property" below the device's, and describes them on others: convention 4
// with "node/property/$unit" and its kin, convention 5 with one JSON document in
// "$description". What the descriptions say is kept as facts, named as convention 4 names
// the topics, and the values are read by it. Where the sensor's owner named properties,
// only these are read.

#include <algorithm>
#include <array>
#include <charconv>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "sensors/channel_units.h"
#include "sensors/decoders.h"
#include "sensors/escape.h"
#include "sensors/json_document.h"
#include "sensors/number.h"

namespace rimeward {
namespace {

using nlohmann::json;

constexpr std::string_view kUnit = "/$unit";
constexpr std::string_view kDatatype = "/$datatype";
constexpr std::string_view kState = "$state";
// "alert" is convention 4's.
constexpr std::array<std::string_view, 6> kStates{"init",     "ready", "disconnected",
                                                  "sleeping", "lost",  "alert"};

constexpr std::size_t kLongestId = 64;
constexpr std::size_t kLongestFact = 64;
constexpr std::size_t kMostFactsInMessage = 64;
constexpr std::size_t kMostFacts = 256;  // of one sensor, whatever it describes

std::vector<std::string_view> levels_of(std::string_view topic) {
  std::vector<std::string_view> levels;
  for (;;) {
    const std::size_t slash = topic.find('/');
    levels.push_back(topic.substr(0, slash));
    if (slash == std::string_view::npos) return levels;
    topic.remove_prefix(slash + 1);
  }
}

// The convention allows small letters, digits and hyphens; devices use the others, too.
bool is_id(std::string_view text) {
  return !text.empty() && text.size() <= kLongestId &&
         std::ranges::all_of(text, [](char c) {
           return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') ||
                  (c >= '0' && c <= '9') || c == '-' || c == '_';
         });
}

// Whether it is short, UTF-8 and without control characters.
bool can_be_fact(std::string_view value) {
  if (value.size() > kLongestFact) return false;
  std::string bare(value);
  std::erase_if(bare, [](char c) { return c == '"' || c == '\\'; });
  return escaped(bare, kLongestFact) == bare;
}

const std::string* fact(const Facts& known, const std::string& name) {
  const auto found = known.find(name);
  return found == known.end() ? nullptr : &found->second;
}

// The facts that one message tells, as far as they are new and there is room for them.
class Learned {
 public:
  explicit Learned(const Facts& known) : known_(known) {}

  void add(const std::string& name, std::string_view value) {
    const std::string* before = fact(known_, name);
    if (before != nullptr && *before == value) return;
    if (!can_be_fact(value) || facts_.size() == kMostFactsInMessage) return;
    if (before == nullptr && known_.size() + facts_.size() >= kMostFacts) return;
    facts_[name] = value;
  }

  void add_all(const Facts& facts) {
    for (const auto& [name, value] : facts)
      add(name, value);
  }

  Decoded decoded() && { return {.samples = {}, .facts = std::move(facts_)}; }

 private:
  const Facts& known_;
  Facts facts_;
};

bool is_numeric(std::string_view datatype) {
  return datatype == "integer" || datatype == "float";
}

// The text of a member, "" where there is none.
std::string_view text_of(const json& object, std::string_view key) {
  const json* value = member(object, key);
  if (value == nullptr || !value->is_string()) return {};
  return value->get_ref<const std::string&>();
}

// The members of the object under `key` whose keys are ids and whose values are objects.
std::vector<std::pair<std::string, const json*>> parts_of(const json& object,
                                                          std::string_view key) {
  std::vector<std::pair<std::string, const json*>> parts;
  const json* all = member(object, key);
  if (all == nullptr || !all->is_object()) return parts;
  for (const auto& [id, part] : all->items()) {
    if (is_id(id) && part.is_object()) parts.emplace_back(id, &part);
  }
  return parts;
}

// What a description of convention 5 says, by the names of facts.
struct Description {
  Facts units;
  Facts datatypes;
};

Description read(const json& document) {
  Description description;
  for (const auto& [node, of_node] : parts_of(document, "nodes")) {
    for (const auto& [id, property] : parts_of(*of_node, "properties")) {
      const std::string name = fmt::format("{}/{}", node, id);
      const std::string_view datatype = text_of(*property, "datatype");
      description.datatypes[name + std::string(kDatatype)] = datatype;
      // Of others the unit makes no difference, and there is room for so many facts only.
      if (!datatype.empty() && !is_numeric(datatype)) continue;
      description.units[name + std::string(kUnit)] = text_of(*property, "unit");
    }
  }
  return description;
}

// Convention 5's "$description".
Result<Decoded> described(std::string_view bytes, const Facts& known) {
  if (bytes.empty()) return Decoded{};
  const Result<json> document = parsed_json(bytes);
  if (!document) return refuse("$description: " + document.error().message);
  if (!document->is_object()) {
    return refuse("$description: expected an object, got " + shown(*document));
  }
  const auto [units, datatypes] = read(*document);
  Learned learned(known);
  // What is no longer described must not stand beside what took its place.
  for (const auto& [name, value] : known) {
    if (name.ends_with(kUnit) && !units.contains(name)) learned.add(name, "");
  }
  learned.add_all(units);
  learned.add_all(datatypes);
  return std::move(learned).decoded();
}

// Convention 5, section "Payload": only digits, "-", "e" or "E" and "." stand in a float,
// and only digits and "-" in an integer, which is one of 64 bits.
Result<double> number_in(std::string_view bytes, std::string_view datatype) {
  const bool integer = datatype == "integer";
  const std::string_view allowed = integer ? "0123456789-" : "0123456789-eE.";
  const auto wrong = [&](std::string_view what) {
    return refuse(fmt::format("expected {}, got \"{}\"", what, escaped(bytes)));
  };
  if (bytes.find_first_not_of(allowed) != std::string_view::npos) {
    return wrong(integer ? "an integer" : "a number");
  }
  if (integer) {
    std::int64_t value = 0;
    const auto [end, fault] =
        std::from_chars(bytes.data(), bytes.data() + bytes.size(), value);
    if (fault != std::errc{} || end != bytes.data() + bytes.size()) {
      return wrong("an integer of 64 bits");
    }
    return static_cast<double>(value);
  }
  const LeadingNumber number = leading_number(bytes);
  if (number.fault == NumberFault::kTooLarge) return wrong("a number of 64 bits");
  if (number.fault != NumberFault::kNone || number.length != bytes.size()) {
    return wrong("a number");
  }
  return number.value;
}

// What is known of a property.
struct Property {
  std::string name;                   // "node/property"
  std::string datatype;               // "": not known
  std::optional<std::string> unit{};  // absent: not known; "": it has none
};

Property property_named(std::string name, const Facts& known) {
  Property property{.name = std::move(name), .datatype = {}};
  if (const auto* datatype = fact(known, property.name + std::string(kDatatype))) {
    property.datatype = *datatype;
  }
  if (const auto* unit = fact(known, property.name + std::string(kUnit))) {
    property.unit = *unit;
    return property;
  }
  // Convention 4 leaves the unit out where there is none, and has every device tell its
  // state when it has described itself.
  const std::string* state = fact(known, std::string(kState));
  const bool complete = state != nullptr && *state != "init";
  if (!property.datatype.empty() && complete) property.unit = "";
  return property;
}

std::optional<Channel> channel_of(const Property& property) {
  if (!property.datatype.empty() && !is_numeric(property.datatype)) return std::nullopt;
  const MeasuringUnit* unit = find_unit(UnitNotation::kHomie, property.unit.value_or(""));
  if (unit == nullptr) return std::nullopt;
  return channel_of(*unit, property.name);
}

// Another property of the same channel.
std::optional<std::string> rival_of(const Property& property, Channel channel,
                                    const Facts& known) {
  for (const auto& [name, unit] : known) {
    if (!name.ends_with(kUnit)) continue;
    std::string other = name.substr(0, name.size() - kUnit.size());
    if (other == property.name) continue;
    if (channel_of(property_named(other, known)) == channel) return other;
  }
  return std::nullopt;
}

Error ambiguous(Channel channel, const std::string& one, const std::string& other) {
  const auto& [first, second] = std::minmax(one, other);
  return {
      fmt::format("{0} is measured by more than one property, \"{1}\" and \"{2}\": say "
                  "by which, as {0} = \"{1}\"",
                  traits(channel).name, first, second)};
}

// The channel that its owner says that the property is of, or, where the owner chose
// none, its unit and name; nothing: of none.
Result<std::optional<Channel>> channel_for(const Property& property,
                                           const PayloadSpec& spec, const Facts& known) {
  for (const auto& [channel, name] : spec.where) {
    if (name == property.name) return channel;
  }
  const auto channel = channel_of(property);
  if (!channel) return std::nullopt;
  if (const auto rival = rival_of(property, *channel, known)) {
    return tl::unexpected(ambiguous(*channel, property.name, *rival));
  }
  return channel;
}

// What a payload of the property says of `channel`.
Result<Decoded> sample_of(const Property& property, Channel channel,
                          std::string_view bytes, TemperatureScale scale) {
  const auto number = number_in(bytes, property.datatype);
  if (!number)
    return refuse(fmt::format("{}: {}", property.name, number.error().message));
  const std::string unit = property.unit.value_or("");
  const auto value = in_unit_of(channel, {*number, unit}, UnitNotation::kHomie, scale);
  if (!value) return refuse(fmt::format("{}: {}", property.name, value.error().message));
  return Decoded{.samples = {{channel, *value}}};
}

bool is_read(const Property& property, const PayloadSpec& spec) {
  if (!property.datatype.empty() && !is_numeric(property.datatype)) return false;
  return spec.where.empty() || std::ranges::any_of(spec.where, [&](const auto& entry) {
           return entry.second == property.name;
         });
}

Result<Decoded> value_of(const Payload& payload, const PayloadSpec& spec,
                         const Facts& known) {
  const Property property = property_named(std::string(payload.below), known);
  if (!is_read(property, spec)) return Decoded{};
  if (!property.unit) {
    return refuse(
        fmt::format("the device has not described \"{}\" yet: its unit is not "
                    "known",
                    property.name));
  }
  const auto found = channel_for(property, spec, known);
  if (!found) return tl::unexpected(found.error());
  const std::optional<Channel> channel = *found;
  if (!channel) return Decoded{};
  return sample_of(property, *channel, payload.bytes, spec.scale);
}

// Convention 4's "node/property/$unit" and "node/property/$datatype".
Decoded attribute(const Payload& payload, const Facts& known) {
  Learned learned(known);
  const std::string name(payload.below);
  // An empty payload takes back what was told.
  if (!payload.bytes.empty() || known.contains(name)) learned.add(name, payload.bytes);
  return std::move(learned).decoded();
}

Decoded state(std::string_view bytes, const Facts& known) {
  Learned learned(known);
  if (std::ranges::find(kStates, bytes) != kStates.end()) {
    learned.add(std::string(kState), bytes);
  }
  return std::move(learned).decoded();
}

}  // namespace

Result<Decoded> decode_homie(const Payload& payload, const PayloadSpec& spec,
                             const Facts& known) {
  // An empty payload says something, too: that its topic is no more.
  if (!payload.bytes.empty()) {
    if (const auto fits = payload_fits(payload.bytes); !fits) {
      return refuse(fits.error().message);
    }
  }
  if (payload.below.empty()) {
    return refuse("a device's own topic; its values come on topics below it");
  }
  const auto levels = levels_of(payload.below);
  if (payload.below == kState) return state(payload.bytes, known);
  if (payload.below == "$description") return described(payload.bytes, known);
  if (levels.size() < 2 || !is_id(levels[0]) || !is_id(levels[1])) return Decoded{};
  if (levels.size() == 2) return value_of(payload, spec, known);
  const bool is_kept =
      payload.below.ends_with(kUnit) || payload.below.ends_with(kDatatype);
  return levels.size() == 3 && is_kept ? attribute(payload, known) : Decoded{};
}

}  // namespace rimeward
