// One [[sensor]] of the settings file: its topic, its element, and where in its messages
// the values stand, which each format says in its own way.

#include <algorithm>
#include <array>
#include <charconv>
#include <chrono>
#include <optional>
#include <string>
#include <utility>

#include <fmt/format.h>

#include "daemon/settings_parts.h"
#include "sensors/channel.h"
#include "sensors/decoders.h"
#include "sensors/escape.h"
#include "sensors/json_pointer.h"
#include "sensors/sensor_type.h"
#include "sensors/topic.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;

constexpr DurationRange kSilentAfter{1min, std::chrono::days{7}};
// What is told once or twice a day has no rhythm that its silence could be known by soon.
constexpr std::chrono::seconds kForecastSilentAfter = 36h;
constexpr Range kBatteryLow{0, 100};
constexpr std::array<std::string_view, 2> kScales{"celsius", "fahrenheit"};
constexpr int kMostOfAKind = 9;
// Levels below a sensor's own topic that a Homie property stands on: node and property.
constexpr std::string_view kBelow = "/node/property";

template <class Items>
std::vector<std::string_view> names_of(const Items& items) {
  std::vector<std::string_view> names;
  for (const auto& item : items)
    names.push_back(item.name);
  return names;
}

bool is_pointer(std::string_view text) {
  return text.starts_with('/') && pointer_tokens(text).has_value();
}

bool is_ordinal(std::string_view text) {
  int number = 0;
  const auto read = std::from_chars(text.data(), text.data() + text.size(), number);
  return read.ec == std::errc{} && read.ptr == text.data() + text.size() && number >= 1 &&
         number <= kMostOfAKind;
}

// "node/property", each an id.
bool is_property(std::string_view text) {
  const std::size_t slash = text.find('/');
  return slash != std::string_view::npos && slash > 0 && slash + 1 < text.size() &&
         text.find('/', slash + 1) == std::string_view::npos && is_valid_topic(text);
}

bool is_name(std::string_view text) {
  return !text.empty();
}

// What a format lets its owner say.
struct FormatKeys {
  std::string_view format;  // empty: to be found
  // Whether a channel's key tells where it stands, and how that is written; nullptr: the
  // format has no such places.
  bool (*is_where)(std::string_view text);
  std::string_view where_is;    // what it should have been
  std::string_view where_hint;  // how that is written, or ""
  bool has_time;
  bool has_data;
  bool has_channel;
  bool has_unit;
};

constexpr std::string_view kPointerIs = "a JSON pointer such as \"/air/t\"";
constexpr std::string_view kPointerHint =
    "; it begins with / and writes ~ as ~0, / in a key as ~1";
constexpr std::array kFormatKeys{
    FormatKeys{"number", nullptr, "", "", false, false, true, true},
    FormatKeys{"json", &is_pointer, kPointerIs, kPointerHint, true, false, false, true},
    FormatKeys{"senml", &is_name, "a record's name", "", false, false, false, false},
    FormatKeys{"bthome", &is_ordinal, "which of its kind, from \"1\" to \"9\"", "", false,
               true, false, false},
    FormatKeys{"homie", &is_property, "a property such as \"climate/temperature\"", "",
               false, false, false, false},
    FormatKeys{"", nullptr, "", "", false, false, false, true},
};

const FormatKeys& keys_of(std::string_view format) {
  const auto* found = std::ranges::find(kFormatKeys, format, &FormatKeys::format);
  return found == kFormatKeys.end() ? kFormatKeys.back() : *found;
}

// The format, or, where it is left out, the one that the other keys are of; empty: none
// of them tells.
std::string read_format(Keys& keys) {
  if (const auto format = keys.choice("format", names_of(all_decoders()))) {
    return std::string(all_decoders()[*format].name);
  }
  if (keys.has("channel")) return "number";
  if (keys.has("data")) return "bthome";
  const bool has_places =
      keys.has("time") || std::ranges::any_of(all_channels(), [&](const auto& channel) {
        return keys.has(channel.name);
      });
  return has_places ? "json" : "";
}

std::optional<std::string> read_pointer(Keys& keys, std::string_view key) {
  auto pointer = keys.text(key);
  if (!pointer || is_pointer(*pointer)) return pointer;
  keys.mistake(key, fmt::format("expected {}, got \"{}\"{}", kPointerIs,
                                escaped(*pointer), kPointerHint));
  return std::nullopt;
}

void read_where(Keys& keys, const FormatKeys& format, PayloadSpec& payload) {
  for (const ChannelTraits& channel : all_channels()) {
    if (format.is_where == nullptr) {
      keys.refuse(channel.name,
                  "format \"number\" has no places to point at; name the channel, such "
                  "as channel = \"humidity\"");
      continue;
    }
    auto where = keys.text(channel.name);
    if (!where) continue;
    if (format.is_where(*where)) {
      payload.where.emplace(channel.channel, *std::move(where));
    } else {
      keys.mistake(channel.name, fmt::format("expected {}, got \"{}\"{}", format.where_is,
                                             escaped(*where), format.where_hint));
    }
  }
}

void read_payload(Keys& keys, const FormatKeys& format, PayloadSpec& payload) {
  read_where(keys, format, payload);
  const auto only_for = [&](std::string_view key, std::string_view others) {
    keys.refuse(key, fmt::format("is for {}; leave it out", others));
  };
  if (format.has_time) {
    payload.time_pointer = read_pointer(keys, "time");
  } else {
    only_for("time", "format \"json\"");
  }
  if (format.has_data) {
    payload.data_pointer = read_pointer(keys, "data");
  } else {
    only_for("data", "format \"bthome\"");
  }
  if (format.has_channel) {
    if (const auto channel = keys.choice("channel", names_of(all_channels()))) {
      payload.lone_channel = all_channels()[*channel].channel;
    }
  } else {
    only_for("channel",
             "format \"number\"; for others say where each channel stands, such as "
             "temperature = \"/air/t\"");
  }
  if (format.has_unit) {
    if (const auto scale = keys.choice("unit", kScales)) {
      payload.scale = static_cast<TemperatureScale>(*scale);
    }
  } else {
    only_for("unit", "formats \"json\" and \"number\", the others say it themselves");
  }
  if (format.format == "number" && !payload.lone_channel) {
    payload.lone_channel = Channel::kAirTemperature;
  }
}

// Why two sensors cannot both read one topic; "" when they can.
std::string clash(const Sensor& one, const Sensor& other) {
  if (one.format != other.format) return "in another format";
  if (one.format == "number") return "as a number, too";
  const auto& where = one.payload.where;
  const auto& others = other.payload.where;
  if (where.empty() && others.empty()) return "by its usual keys, too";
  if (where.empty() || others.empty()) {
    return "and only one of the two says where its channels stand; let both";
  }
  for (const auto& [channel, place] : where) {
    const auto found = others.find(channel);
    if (found == others.end() || found->second != place) continue;
    return fmt::format("for {}, too", traits(channel).name);
  }
  return "";
}

bool is_heard(const Sensor& sensor, const Broker& broker) {
  const Decoder* decoder = find_decoder(sensor.format);
  return std::ranges::any_of(broker.listen, [&](const std::string& filter) {
    if (!is_valid_filter(filter)) return false;
    const bool itself = topic_matches(filter, sensor.topic);
    const bool below = topic_matches(filter, sensor.topic + std::string(kBelow));
    if (decoder == nullptr) return itself || below;
    return decoder->spans_topics ? below : itself;
  });
}

void check_topic(Keys& keys, const Sensor& sensor, const Garden& garden) {
  if (!is_valid_topic(sensor.topic)) {
    keys.mistake("topic",
                 fmt::format("\"{}\" has a wildcard; name the one topic that the "
                             "sensor publishes to",
                             escaped(sensor.topic)));
    return;
  }
  if (!is_heard(sensor, garden.broker)) {
    const bool below = sensor.format == "homie";
    keys.mistake("topic", fmt::format("nothing in [broker] listen matches \"{0}{1}\"; "
                                      "add \"{0}{1}\" there",
                                      escaped(sensor.topic, 200), below ? "/#" : ""));
  }
  for (const Sensor& other : garden.sensors) {
    if (other.topic != sensor.topic) continue;
    const std::string why = clash(sensor, other);
    if (why.empty()) continue;
    keys.mistake("topic", fmt::format("sensor \"{}\" reads \"{}\" {}", escaped(other.id),
                                      escaped(sensor.topic), why));
  }
}

}  // namespace

void read_sensor(Keys keys, Garden& garden) {
  Sensor sensor;
  sensor.id = read_id(keys, ids_of(garden.sensors));
  keys.require("place", "the id of the place where it hangs");
  set(sensor.place, keys.text("place"));
  if (!sensor.place.empty()) check_place_is_known(keys, "place", sensor.place, garden);
  keys.require("topic", "the MQTT topic that it publishes to");
  set(sensor.topic, keys.text("topic"));
  sensor.format = read_format(keys);
  read_payload(keys, keys_of(sensor.format), sensor.payload);
  if (const auto type = keys.choice("type", names_of(all_sensor_types()))) {
    sensor.type = &all_sensor_types()[*type];
  }
  if (is_forecast(sensor)) sensor.silent_after = kForecastSilentAfter;
  if (const auto after = keys.duration("silent_after", kSilentAfter)) {
    sensor.silent_after = std::chrono::ceil<std::chrono::seconds>(*after);
  }
  set(sensor.battery_low, keys.number("battery_low", kBatteryLow));
  if (!sensor.topic.empty()) check_topic(keys, sensor, garden);
  keys.refuse_unread();
  if (!sensor.id.empty()) garden.sensors.push_back(std::move(sensor));
}

}  // namespace rimeward
