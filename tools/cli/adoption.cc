#include "tools/cli/adoption.h"

#include <algorithm>
#include <cstdint>
#include <map>
#include <set>
#include <utility>

#include <fmt/format.h>

#include "daemon/base/text.h"
#include "sensors/escape.h"
#include "sensors/number.h"
#include "sensors/recognise.h"
#include "sensors/topic.h"
#include "tools/cli/adoption_homie.h"
#include "tools/cli/adoption_json.h"

namespace rimeward {
namespace {

constexpr std::size_t kLongestId = 60;  // of 64, with room for a number
constexpr std::size_t kLongestShown = 200;

bool is_id_letter(char letter) {
  return (letter >= 'a' && letter <= 'z') || (letter >= '0' && letter <= '9');
}

std::vector<std::string> levels_of(std::string_view topic) {
  std::vector<std::string> levels;
  while (true) {
    const std::size_t slash = topic.find('/');
    levels.push_back(id_from(topic.substr(0, slash)));
    if (slash == std::string_view::npos) return levels;
    topic.remove_prefix(slash + 1);
  }
}

// From the topic's levels but the first, which a whole garden shares; of a device that
// has levels of its own below, from its last.
std::string id_for(const Candidate& candidate, std::set<std::string>& taken) {
  std::vector<std::string> levels = levels_of(candidate.topic);
  const auto shared = candidate.is_device ? levels.end() - 1 : levels.begin() + 1;
  if (levels.size() > 1) levels.erase(levels.begin(), shared);
  std::erase(levels, "");
  std::string id = id_from(fmt::format("{}", fmt::join(levels, " ")));
  if (id.empty()) id = "sensor";
  std::string own = id;
  for (int number = 2; taken.contains(own); ++number) {
    own = fmt::format("{}-{}", id, number);
  }
  taken.insert(own);
  return own;
}

// True for "north-frame" in "the-north-frame-probe".
bool stands_in(std::string_view id, std::string_view level) {
  return fmt::format("-{}-", level).find(fmt::format("-{}-", id)) != std::string::npos;
}

struct PlaceGuess {
  const Place* place;
  bool is_guess;
};

PlaceGuess place_for(std::string_view topic, const std::vector<Place>& places) {
  const std::vector<std::string> levels = levels_of(topic);
  const Place* named = nullptr;
  std::vector<std::string_view> ids;
  for (const Place& place : places) {
    ids.push_back(place.id);
    const std::string name = id_from(place.name);
    const bool stands = std::ranges::any_of(levels, [&](const std::string& level) {
      return stands_in(place.id, level) || (!name.empty() && stands_in(name, level));
    });
    // "north-frame" says more than "frame".
    if (stands && (named == nullptr || place.id.size() > named->id.size())) {
      named = &place;
    }
  }
  if (named != nullptr) return {named, false};
  for (const std::string& level : levels) {
    if (level.empty()) continue;
    const auto near = nearest(level, ids);
    if (near) return {&*std::ranges::find(places, *near, &Place::id), true};
  }
  return {&places.front(), true};
}

std::string why_unreadable(std::string_view payload) {
  if (trimmed(payload).empty()) return "an empty message";
  if (trimmed(payload).find_first_of("{[") == 0) {
    const auto read = decode_json(Payload{payload}, {}, {});
    if (!read) return read.error().message;
  }
  return "in no format that is known";
}

// A number whose topic does not say of which channel it is.
std::optional<Way> as_bare_number(const Payload& payload) {
  PayloadSpec spec;
  spec.lone_channel = Channel::kAirTemperature;
  auto read = decode_number(payload, spec, {});
  if (!read) return std::nullopt;
  return Way{.format = "number",
             .lone_channel = spec.lone_channel,
             .samples = std::move(read->samples)};
}

void read_topic(Candidate& candidate) {
  const Payload payload{candidate.payload};
  Recognition seen = recognise(candidate.topic, payload, {}, {});
  candidate.channel_unknown = seen.bare_number;
  if (auto number = seen.bare_number ? as_bare_number(payload) : std::nullopt) {
    candidate.ways.push_back(*std::move(number));
  }
  for (Recognised& way : seen.ways) {
    candidate.ways.push_back({.format = way.decoder->name,
                              .lone_channel = way.spec.lone_channel,
                              .samples = std::move(way.decoded.samples)});
  }
  if (!candidate.ways.empty()) return;
  std::vector<FoundNumber> numbers = numbers_in_json(candidate.payload);
  if (numbers.empty()) {
    candidate.trouble = why_unreadable(candidate.payload);
  } else {
    candidate.ways.push_back({.format = "json", .numbers = std::move(numbers)});
  }
}

// A device's properties stand on topics two levels below its own.
bool is_listened_to(const Candidate& device, const Broker& broker) {
  const std::string property = device.topic + "/node/property";
  return std::ranges::any_of(broker.listen, [&](const std::string& filter) {
    return topic_matches(filter, property);
  });
}

void check_topic(Candidate& candidate, const Broker& broker) {
  if (!candidate.trouble.empty()) return;
  if (!is_valid_topic(candidate.topic)) {
    candidate.trouble = "its topic is none that a sensor may have";
  } else if (!toml_string(candidate.topic, {})) {
    candidate.trouble = "its topic is not UTF-8: give it another name at the sensor";
  } else if (has_control_characters(candidate.topic)) {
    candidate.trouble =
        "its topic has control characters: give it another name at the sensor";
  } else if (candidate.is_device && !is_listened_to(candidate, broker)) {
    candidate.trouble = "[broker] listen leaves out what is below it: add \"" +
                        escaped(candidate.topic, kLongestShown) + "/#\" there first";
  }
}

Candidate candidate_of(const HeardRow& row) {
  Candidate candidate{.topic = row.topic,
                      .first_at = row.first_at,
                      .last_at = row.last_at,
                      .count = row.count,
                      .payload = row.payload};
  read_topic(candidate);
  return candidate;
}

// --- the lines

// REQUIRES: UTF-8, so that a character is its first byte and those that continue it.
std::uint32_t code_of(std::string_view character) {
  const auto lead = static_cast<unsigned char>(character[0]);
  if (character.size() == 1) return lead;
  std::uint32_t code = lead & (0x7FU >> character.size());
  for (const char byte : character.substr(1)) {
    code = (code << 6U) | (static_cast<unsigned char>(byte) & 0x3FU);
  }
  return code;
}

std::string toml_character(std::string_view character, const Screen& screen) {
  if (character == "\"" || character == "\\") return fmt::format("\\{}", character);
  if (printable(character, screen) == character) return std::string(character);
  const std::uint32_t code = code_of(character);
  return code < 0x10000 ? fmt::format("\\u{:04X}", code) : fmt::format("\\U{:08X}", code);
}

std::size_t length_of_character(std::string_view text) {
  std::size_t length = 1;
  while (length < text.size() &&
         (static_cast<unsigned char>(text[length]) & 0xC0U) == 0x80) {
    ++length;
  }
  return length;
}

// REQUIRES: what length_of_character() cut off.
bool is_utf8(std::string_view character) {
  if (character.size() == 1) return static_cast<unsigned char>(character[0]) < 0x80;
  const Screen wide{.width = 80, .colour = false, .utf8 = true};
  const std::string shown = printable(character, wide);
  return shown == character ||
         (shown.starts_with("\\u{") && shown.find('}') == shown.size() - 1);
}

std::string where_lines(const Way& way, const Screen& screen) {
  std::string lines;
  std::set<Channel> said;
  for (const FoundNumber& number : way.numbers) {
    const auto where = toml_string(number.where, screen);
    if (!where) continue;
    const bool known = number.channel && said.insert(*number.channel).second;
    const std::string_view name =
        number.channel ? traits(*number.channel).name : "temperature";
    lines +=
        fmt::format("{}{} = {}  # {:g}\n", known ? "" : "# ", name, *where, number.value);
  }
  if (lines.empty()) return "";
  return "# Check these; take the # away from each that is to be read:\n" + lines;
}

std::string format_lines(const Way& way) {
  std::string lines = fmt::format("format = \"{}\"\n", way.format);
  if (way.lone_channel) {
    lines += fmt::format("channel = \"{}\"\n", traits(*way.lone_channel).name);
  }
  return lines;
}

std::string commented(std::string_view lines) {
  std::string result;
  while (!lines.empty()) {
    const std::size_t end = std::min(lines.find('\n') + 1, lines.size());
    result += fmt::format("# {}", lines.substr(0, end));
    lines.remove_prefix(end);
  }
  return result;
}

std::string lines_of_ways(const Candidate& candidate, const Screen& screen) {
  const std::span<const Way> ways = candidate.ways;
  std::string lines;
  if (ways.size() > 1) {
    lines += "# It can be read in more than one way: check which is right.\n";
  }
  if (candidate.channel_unknown) {
    lines += "# A bare number: check what it is of, such as \"humidity\".\n";
  }
  lines += format_lines(ways.front()) + where_lines(ways.front(), screen);
  for (const Way& other : ways.subspan(1)) {
    lines += "# or, in their place:\n" + commented(format_lines(other));
  }
  return lines;
}

}  // namespace

std::vector<Candidate> candidates(const Garden& garden, std::span<const HeardRow> heard) {
  std::vector<Candidate> found;
  const HomieDevices devices(heard);
  for (const HeardRow& row : heard) {
    if (devices.has(row.topic)) continue;
    found.push_back(candidate_of(row));
  }
  for (Candidate& device : devices.candidates())
    found.push_back(std::move(device));
  std::ranges::sort(found, {}, &Candidate::topic);
  std::set<std::string> taken;
  for (const Sensor& sensor : garden.sensors)
    taken.insert(sensor.id);
  for (Candidate& candidate : found) {
    check_topic(candidate, garden.broker);
    if (!candidate.trouble.empty()) continue;
    candidate.id = id_for(candidate, taken);
    const PlaceGuess guess = place_for(candidate.topic, garden.places);
    candidate.place = guess.place;
    candidate.place_is_guess = guess.is_guess;
  }
  return found;
}

std::string settings_lines(const Candidate& candidate, const Screen& screen) {
  const auto topic = toml_string(candidate.topic, screen);
  if (!candidate.trouble.empty() || !topic) return "";
  return fmt::format("[[sensor]]\nid = \"{}\"\n{}place = \"{}\"\ntopic = {}\n{}",
                     candidate.id,
                     candidate.place_is_guess
                         ? "# Its topic does not name a place: check where it hangs.\n"
                         : "",
                     candidate.place->id, *topic, lines_of_ways(candidate, screen));
}

std::string id_from(std::string_view text) {
  const Screen ascii{.width = 80, .colour = false, .utf8 = false};
  std::string id;
  for (char letter : printable(text, ascii)) {
    if (letter >= 'A' && letter <= 'Z') letter = static_cast<char>(letter - 'A' + 'a');
    if (is_id_letter(letter)) {
      id += letter;
    } else if (!id.empty() && id.back() != '-') {
      id += '-';
    }
    if (id.size() == kLongestId) break;
  }
  while (id.ends_with('-'))
    id.pop_back();
  return id;
}

bool has_control_characters(std::string_view text) {
  return std::ranges::any_of(text, [](char letter) {
    const auto byte = static_cast<unsigned char>(letter);
    return byte < 0x20 || byte == 0x7F;
  });
}

std::optional<std::string> toml_string(std::string_view text, const Screen& screen) {
  std::string quoted = "\"";
  while (!text.empty()) {
    const std::string_view character = text.substr(0, length_of_character(text));
    text.remove_prefix(character.size());
    if (!is_utf8(character)) return std::nullopt;
    quoted += toml_character(character, screen);
  }
  return quoted + '"';
}

}  // namespace rimeward
