#include "tools/cli/first_time/first_time_settings.h"

#include <algorithm>
#include <array>
#include <string_view>
#include <vector>

#include <fmt/format.h>

#include "daemon/settings.h"
#include "sensors/channel.h"
#include "tools/cli/adoption.h"

namespace rimeward {
namespace {

constexpr std::string_view kHead =
    R"(# The settings of this garden, made by `rimeward first-time`.
#
# A line that begins with # does not count. Take the # from one of the settings
# among them and it does. `rimeward check` reads this file as the daemon would and
# says what is wrong where; `sudo systemctl reload rimeward` puts it in force.
# `man rimeward.toml` has every key and explains it.
#
# Temperatures in this file are degrees Celsius, always.

[garden]
)";

constexpr std::string_view kGardenMore = R"(
# When a day begins for its high and low: when the maximum-minimum thermometer
# would be read and reset.
#day_starts = "09:00"

# Your own hours: by when you want to be done outside, from when you can be there,
# and when a summary of the night and a letter about the week go out by the routes
# below.
[gardener]
#evening_by = "19:30"
#morning_from = "07:00"
#morning_summary = "07:15"
#sunday_letter = "18:00"

# The MQTT broker that the sensors publish to, and the topics to listen to.
[broker]
)";

constexpr std::string_view kPlaces = R"(
# The places, each with a climate of its own. An id names a place in the store:
# leave it as it is, and change the name instead.
)";

constexpr std::string_view kPlaceMore = R"(# Layers of fleece that there are to put on.
#fleece_layers = 1
)";

constexpr std::string_view kSensors = R"(
# The sensors. `rimeward sensors --heard` shows what else is heard, with the lines
# that make a sensor of it.
)";

constexpr std::string_view kRoutes = R"(
# How notices reach you. Without a route only `rimeward notices` shows them. Other
# kinds are "mqtt", "http" and "command"; two that do not fail together are best.
# `rimeward check --routes` sends a trial by each.
#[[route]]
#kind = "email"
#server = "smtp://mail.example.org:587"
#user = "rimeward@example.org"
#password_file = "/etc/rimeward/mail-password"
#from = "rimeward@example.org"
#to = ["gardeners@example.org"]
#quiet = "22:00-06:30"
)";

// Shown where none is set; common practice, no source.
constexpr double kUsualVent = 24;

// What is read is what was typed, to the last digit, and a number with a point.
std::string decimal(double number) {
  std::string text = fmt::format("{}", number);
  if (text.find_first_of(".e") == std::string::npos) text += ".0";
  return text;
}

// Pieces of the file, one after the other.
class Writer {
 public:
  explicit Writer(const Screen& screen) : screen_(screen) {}

  void add(std::string_view lines) { text_ += lines; }
  void number(std::string_view key, double value) {
    text_ += fmt::format("{} = {}\n", key, decimal(value));
  }
  // REQUIRES: UTF-8.
  void text(std::string_view key, std::string_view value) {
    text_ += fmt::format("{} = {}\n", key, quoted(value));
  }
  // The same, but left out when it is empty.
  void said(std::string_view key, std::string_view value) {
    if (!value.empty()) text(key, value);
  }
  std::string quoted(std::string_view value) const {
    return toml_string(value, screen_).value();
  }
  std::string take() { return std::move(text_); }

 private:
  const Screen& screen_;
  std::string text_;
};

std::string_view kind_word(PlaceKind kind) {
  constexpr std::array<std::string_view, 5> kWords{"greenhouse", "polytunnel", "frame",
                                                   "bed", "outdoors"};
  return kWords.at(static_cast<std::size_t>(kind));
}

std::string degrees_remark(Celsius temperature, TemperatureUnit unit) {
  if (unit == TemperatureUnit::kCelsius) return "";
  return fmt::format("# {:.1f} degrees Fahrenheit\n", in_fahrenheit(temperature));
}

void write_site(Writer& writer, const Garden& garden) {
  writer.add(kHead);
  writer.text("name", garden.name);
  writer.add("# In degrees; north and east are positive, south and west negative.\n");
  writer.number("latitude", garden.position.latitude);
  writer.number("longitude", garden.position.longitude);
  writer.text("time_zone", garden.time_zone);
  writer.add("# For what is shown; \"celsius\" or \"fahrenheit\".\n");
  writer.text("units",
              garden.units == TemperatureUnit::kCelsius ? "celsius" : "fahrenheit");
  writer.add("# Of the notices and letters; \"en\" or \"de\".\n");
  writer.text("language", garden.language);
  writer.add(kGardenMore);
}

void write_broker(Writer& writer, const Broker& broker) {
  writer.text("address", broker.address);
  std::string filters;
  for (const std::string& filter : broker.listen) {
    filters += (filters.empty() ? "" : ", ") + writer.quoted(filter);
  }
  writer.add(fmt::format("listen = [{}]\n", filters));
  writer.said("user", broker.user);
  if (broker.password_file.empty()) {
    writer.add(
        "# Who logs in. The password is the first line of a file that only the "
        "daemon\n# can read; it never stands here.\n");
    writer.add(broker.user.empty() ? "#user = \"rimeward\"\n" : "");
    writer.add("#password_file = \"/etc/rimeward/broker-password\"\n");
  } else {
    writer.text("password_file", broker.password_file);
  }
  writer.said("ca_file", broker.ca_file);
}

void write_keep_above(Writer& writer, const Place& place, TemperatureUnit unit) {
  if (place.keep_above) {
    writer.add("# Below this the plants here must not go.\n");
    writer.add(degrees_remark(*place.keep_above, unit));
    writer.number("keep_above", place.keep_above->degrees);
    return;
  }
  writer.add(
      place.kind == PlaceKind::kOutdoors
          ? "# Left out: what its most tender batch needs (`rimeward batch add`). While\n"
            "# there is none, nothing is told of cold here.\n"
          : "# Left out: what its most tender batch needs (`rimeward batch add`). While\n"
            "# there is none: 0, no frost.\n");
  const double vent = place.vent_above ? place.vent_above->degrees : kUsualVent;
  writer.number("#keep_above", std::min(1.0, vent - 1));
}

void write_place(Writer& writer, const Place& place, TemperatureUnit unit) {
  writer.add("[[place]]\n");
  writer.text("id", place.id);
  writer.text("name", place.name);
  writer.text("kind", kind_word(place.kind));
  write_keep_above(writer, place, unit);
  if (place.vent_above) {
    writer.add("# From this on it should be aired.\n");
    writer.add(degrees_remark(*place.vent_above, unit));
    writer.number("vent_above", place.vent_above->degrees);
  } else if (is_covered(place.kind)) {
    writer.add("# From which temperature on it should be aired. Left out: never told.\n");
    const double keep = place.keep_above ? place.keep_above->degrees : 0;
    writer.number("#vent_above", std::max(kUsualVent, keep + 1));
  }
  if (place.kind != PlaceKind::kOutdoors) writer.add(kPlaceMore);
  writer.add("\n");
}

void write_sensor(Writer& writer, const Sensor& sensor) {
  writer.add("[[sensor]]\n");
  writer.text("id", sensor.id);
  writer.text("place", sensor.place);
  writer.text("topic", sensor.topic);
  writer.said("format", sensor.format);
  if (sensor.payload.lone_channel) {
    writer.text("channel", traits(*sensor.payload.lone_channel).name);
  }
  for (const auto& [channel, where] : sensor.payload.where)
    writer.text(traits(channel).name, where);
  if (sensor.payload.scale == TemperatureScale::kFahrenheit) {
    writer.text("unit", "fahrenheit");
  } else if (sensor.format == "number" || sensor.format == "json") {
    writer.add("# If its temperatures are Fahrenheit, and nothing in it says so:\n");
    writer.add("#unit = \"fahrenheit\"\n");
  }
  writer.add("\n");
}

// A topic that the filter lets through, of a sensor in that place.
std::string topic_within(std::string_view filter, const std::string& place) {
  if (filter.empty() || filter == "#") return "garden/" + place + "/climate";
  std::string topic;
  for (const char letter : filter) {
    if (letter == '+') {
      topic += place;
    } else if (letter == '#') {
      topic += place + "/climate";
    } else {
      topic += letter;
    }
  }
  return topic;
}

// In the place of the first.
void write_sensor_to_come(Writer& writer, const Garden& garden) {
  const std::string& place = garden.places.front().id;
  const auto& filters = garden.broker.listen;
  writer.add("#[[sensor]]\n");
  writer.text("#id", place + "-climate");
  writer.text("#place", place);
  writer.text("#topic", topic_within(filters.empty() ? "" : filters.front(), place));
}

// As far as a set-up asks.
bool reads_as(const Garden& read, const Garden& meant) {
  const Screen screen;
  return settings_text(read, screen) == settings_text(meant, screen);
}

}  // namespace

std::string settings_text(const Garden& garden, const Screen& screen) {
  Writer writer(screen);
  write_site(writer, garden);
  write_broker(writer, garden.broker);
  writer.add(kPlaces);
  for (const Place& place : garden.places)
    write_place(writer, place, garden.units);
  writer.add(kSensors.substr(1));
  for (const Sensor& sensor : garden.sensors)
    write_sensor(writer, sensor);
  if (garden.sensors.empty()) write_sensor_to_come(writer, garden);
  writer.add(garden.sensors.empty() ? kRoutes : kRoutes.substr(1));
  return writer.take();
}

std::optional<std::string> trouble_with(const Garden& garden) {
  constexpr std::string_view kFile = "garden.toml";
  const SettingsOutcome read = read_garden_text(settings_text(garden, {}), kFile);
  if (read) {
    if (reads_as(*read, garden)) return std::nullopt;
    return "it does not read back as it was answered";
  }
  // "garden.toml:12: [broker] address: ..."
  const std::string& mistake = read.error().front();
  const std::size_t end = mistake.find(": ", kFile.size());
  return end == std::string::npos ? mistake : mistake.substr(end + 2);
}

}  // namespace rimeward
