// Topics that are heard and belong to no sensor, read as far as they can be, and the
// lines of the settings file that would make a sensor of each. Pure.
//
// Topics and payloads are chosen by whoever may publish to the broker: the lines hold
// them in such a form that the settings are read as they were meant, whatever they hold.

#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/base/garden.h"
#include "daemon/store/rows.h"
#include "sensors/decoders.h"
#include "tools/cli/screen.h"

namespace rimeward {

// A number that a message holds, and where: a JSON pointer, or a Homie property.
struct FoundNumber {
  std::string where;
  double value = 0;
  std::optional<Channel> channel{};  // that its name or unit speaks for
};

// One format in which it can be read, and what it then says.
struct Way {
  std::string_view format;
  std::optional<Channel> lone_channel{};  // of a bare number
  std::vector<Sample> samples{};          // none of a device that only described itself
  // Not empty: where its channels stand must be said, and stands here.
  std::vector<FoundNumber> numbers{};
};

struct Candidate {
  std::string topic;       // of a Homie device that above all it publishes
  bool is_device = false;  // a Homie device
  int topics = 1;          // heard of it
  Instant first_at{};
  Instant last_at{};
  std::int64_t count = 0;
  std::string payload{};         // the last one's beginning; empty for a device
  std::vector<Way> ways{};       // none: nothing can read it
  bool channel_unknown = false;  // a bare number, and its topic does not say of what
  std::string trouble{};         // why it cannot be adopted; empty: it can
  std::string id{};              // for the sensor; of its own among all
  const Place* place = nullptr;  // into the garden
  bool place_is_guess = false;   // its topic does not name it
};

// In the order of their topics. REQUIRES: the garden has a place, and outlives the
// result; `heard` is in the order of the topics.
std::vector<Candidate> candidates(const Garden& garden, std::span<const HeardRow> heard);

// The lines that would adopt it, each with its newline; empty where nothing can read it.
// They stand as they are on any screen, without further escaping, and are not wrapped:
// only a screen without UTF-8 makes a difference, and none in what they mean.
std::string settings_lines(const Candidate& candidate, const Screen& screen);

// As an id is spelled: "North Frame" and "north_frame" become "north-frame". Empty where
// no letter or digit can be told.
std::string id_from(std::string_view text);

// Which no text of the settings may have.
bool has_control_characters(std::string_view text);

// A TOML basic string (TOML 1.0), quotes and all; nothing for text that is not UTF-8.
std::optional<std::string> toml_string(std::string_view text, const Screen& screen);

}  // namespace rimeward
