#include "tools/cli/first_time/first_time_settings.h"

#include <algorithm>
#include <cctype>
#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <optional>
#include <random>
#include <sstream>
#include <string>
#include <utility>
#include <vector>

#include <doctest/doctest.h>
#include <fmt/format.h>

#include "daemon/settings.h"
#include "tools/cli/first_time/first_time_places.h"
#include "tools/cli/first_time/first_time_sensors.h"

namespace rimeward {
namespace {

namespace fs = std::filesystem;

constexpr Screen kWide{.width = 80, .colour = false, .utf8 = true};
constexpr Screen kAscii{.width = 80, .colour = false, .utf8 = false};

Garden read_back(const std::string& text) {
  SettingsOutcome garden = read_garden_text(text, "garden.toml");
  if (!garden) {
    for (const std::string& mistake : garden.error())
      MESSAGE(mistake);
  }
  CAPTURE(text);
  REQUIRE(garden);
  return *garden;
}

void check_same(const Garden& read, const Garden& meant) {
  CHECK(read.name == meant.name);
  CHECK(read.position.latitude == meant.position.latitude);
  CHECK(read.position.longitude == meant.position.longitude);
  CHECK(read.time_zone == meant.time_zone);
  CHECK(read.units == meant.units);
  CHECK(read.language == meant.language);
  CHECK(read.day_starts == meant.day_starts);
  CHECK(read.broker.address == meant.broker.address);
  CHECK(read.broker.listen == meant.broker.listen);
  CHECK(read.broker.user == meant.broker.user);
  CHECK(read.broker.password_file == meant.broker.password_file);
  CHECK(read.broker.ca_file == meant.broker.ca_file);
  CHECK(read.routes.empty());
  REQUIRE(read.places.size() == meant.places.size());
  for (std::size_t i = 0; i < read.places.size(); ++i) {
    CHECK(read.places[i].id == meant.places[i].id);
    CHECK(read.places[i].name == meant.places[i].name);
    CHECK(read.places[i].kind == meant.places[i].kind);
    CHECK(read.places[i].keep_above == meant.places[i].keep_above);
    CHECK(read.places[i].vent_above == meant.places[i].vent_above);
    CHECK(read.places[i].fleece_layers == 1);
  }
  REQUIRE(read.sensors.size() == meant.sensors.size());
  for (std::size_t i = 0; i < read.sensors.size(); ++i) {
    CHECK(read.sensors[i].id == meant.sensors[i].id);
    CHECK(read.sensors[i].place == meant.sensors[i].place);
    CHECK(read.sensors[i].topic == meant.sensors[i].topic);
    CHECK(read.sensors[i].format == meant.sensors[i].format);
    CHECK(read.sensors[i].payload.lone_channel == meant.sensors[i].payload.lone_channel);
    CHECK(read.sensors[i].payload.where == meant.sensors[i].payload.where);
    CHECK(read.sensors[i].payload.scale == meant.sensors[i].payload.scale);
  }
}

// Every setting that does not count is made one that does.
std::string with_all_settings(const std::string& text) {
  std::istringstream lines(text);
  std::string result;
  for (std::string line; std::getline(lines, line);) {
    const bool is_setting =
        line.size() > 1 && line[0] == '#' && (line[1] == '[' || std::isalpha(line[1]));
    result += (is_setting ? line.substr(1) : line) + "\n";
  }
  return result;
}

Place place(std::string id, std::string name, PlaceKind kind,
            std::optional<Celsius> keep_above = {},
            std::optional<Celsius> vent_above = {}) {
  Place result;
  result.id = std::move(id);
  result.name = std::move(name);
  result.kind = kind;
  result.keep_above = keep_above;
  result.vent_above = vent_above;
  return result;
}

Garden hochfeld() {
  Garden garden;
  garden.name = "Hochfeld school garden";
  garden.position = {.latitude = 48.41, .longitude = 9.52};
  garden.time_zone = "Europe/Berlin";
  garden.broker.listen = {"garden/#"};
  garden.places = {
      place("north-frame", "North frame", PlaceKind::kFrame, Celsius{1}, Celsius{22}),
      place("yard", "Yard", PlaceKind::kOutdoors)};
  Sensor climate;
  climate.id = "north-frame-climate";
  climate.place = "north-frame";
  climate.topic = "garden/north-frame/climate";
  climate.format = "json";
  Sensor air;
  air.id = "yard-temperature";
  air.place = "yard";
  air.topic = "garden/yard/temperature";
  air.format = "number";
  air.payload.lone_channel = Channel::kAirTemperature;
  garden.sensors = {climate, air};
  return garden;
}

std::string text_of(const fs::path& file) {
  std::ifstream stream(file, std::ios::binary);
  return {std::istreambuf_iterator<char>(stream), {}};
}

// tests/tools/first_time/first_time.toml is written anew where RIMEWARD_UPDATE_CASES is
// set.
TEST_CASE("the written settings are those of the example, to the letter") {
  const fs::path file =
      fs::path(RIMEWARD_SOURCE_DIR) / "tests/tools/first_time/first_time.toml";
  const std::string text = settings_text(hochfeld(), kWide);
  if (std::getenv("RIMEWARD_UPDATE_CASES") != nullptr) std::ofstream(file) << text;
  CHECK(text == text_of(file));
  check_same(read_back(text), hochfeld());
}

TEST_CASE("a setting that does not count is a good one without its #") {
  Garden garden = hochfeld();
  check_same(read_back(settings_text(garden, kWide)), garden);
  const Garden more = read_back(with_all_settings(settings_text(garden, kWide)));
  CHECK(more.routes.size() == 1);
  CHECK(more.hours.evening_by.has_value());
  CHECK(more.sensors.size() == 2);
  CHECK(more.broker.user == "rimeward");

  garden.sensors.clear();
  garden.broker.user = "warden";
  garden.places = {
      place("bed", "Bed", PlaceKind::kBed),
      place("hot", "Hot", PlaceKind::kGreenhouse, Celsius{30}),
      place("cool", "Cool", PlaceKind::kGreenhouse, std::nullopt, Celsius{1})};
  // Within whatever it listens to stands the topic of an example.
  for (const char* filter : {"garden/#", "#", "yard/+/#", "lone"}) {
    garden.broker.listen = {filter};
    const std::string text = with_all_settings(settings_text(garden, kWide));
    CAPTURE(text);
    CHECK(read_garden_text(text, "garden.toml"));
  }
}

TEST_CASE("no line of the settings is wider than 82 columns") {
  std::istringstream lines(settings_text(hochfeld(), kWide));
  for (std::string line; std::getline(lines, line);)
    CHECK(line.size() <= 82);
}

// Characters that TOML, a shell, a screen or a reader of lines might take for its own.
std::string any_text(std::mt19937& random) {
  static const std::vector<std::string> kParts{
      "\"", "\\", "'",  "#", "[",      "]",      "=",      " ",       "a",      "Z",
      "9",  "-",  "{",  "}", ",",      "$",      "\\n",    "\\u0041", "\"\"\"", "'''",
      "ä",  "ß",  "日", "🌱", "\u202e", "\u200b", "\u0085", "%",       "name",   "true"};
  std::string text;
  for (std::size_t i = 1 + random() % 12; i > 0; --i)
    text += kParts.at(random() % kParts.size());
  return text;
}

Garden any_garden(std::mt19937& random) {
  const auto one_of = [&](auto count) { return static_cast<int>(random() % count); };
  Garden garden;
  garden.name = any_text(random);
  garden.position = {.latitude = (one_of(1'800'001U) - 900'000) / 10'000.0,
                     .longitude = (one_of(3'600'001U) - 1'800'000) / 10'000.0};
  garden.time_zone = "Europe/Berlin";
  garden.units = static_cast<TemperatureUnit>(one_of(2U));
  garden.language = one_of(2U) == 0 ? "en" : "de";
  garden.broker.address = one_of(2U) == 0 ? "mqtt://127.0.0.1:1883" : "mqtts://b.example";
  if (one_of(2U) == 0) garden.broker.user = any_text(random);
  if (!garden.broker.user.empty()) garden.broker.password_file = any_text(random);
  if (garden.broker.address.starts_with("mqtts"))
    garden.broker.ca_file = any_text(random);
  std::vector<std::string> ids;
  for (int i = one_of(4U); i >= 0; --i) {
    Place place;
    place.name = any_text(random);
    place.id = own_id(place.name, ids, "place");
    ids.push_back(place.id);
    place.kind = static_cast<PlaceKind>(one_of(5U));
    if (one_of(2U) == 0) place.keep_above = Celsius{one_of(3001U) / 100.0 - 10};
    if (one_of(2U) == 0) place.vent_above = Celsius{20.5 + one_of(2000U) / 100.0};
    garden.places.push_back(std::move(place));
  }
  for (int i = one_of(5U); i > 0; --i) {
    Sensor sensor;
    sensor.id = fmt::format("sensor-{}", i);
    sensor.place = ids.at(random() % ids.size());
    sensor.topic = fmt::format("{}/{}", any_text(random), i);
    for (const char wild : {'#', '+'})
      std::erase(sensor.topic, wild);
    sensor.format = one_of(2U) == 0 ? "json" : "number";
    if (sensor.format == "number") {
      sensor.payload.lone_channel = all_channels()[random() % 9].channel;
    } else if (one_of(2U) == 0) {
      std::string pointer = any_text(random);
      std::erase(pointer, '~');
      sensor.payload.where.emplace(all_channels()[random() % 9].channel, "/" + pointer);
    }
    sensor.payload.scale = static_cast<TemperatureScale>(one_of(2U));
    garden.sensors.push_back(std::move(sensor));
  }
  garden.broker.listen = filters_for(garden.sensors);
  if (garden.sensors.empty()) garden.broker.listen = {"garden/#"};
  return garden;
}

TEST_CASE("any garden is read back as it was answered, on either kind of screen") {
  std::mt19937 random(20260412);
  for (int round = 0; round < 300; ++round) {
    const Garden garden = any_garden(random);
    check_same(read_back(settings_text(garden, kWide)), garden);
    const std::string ascii = settings_text(garden, kAscii);
    check_same(read_back(ascii), garden);
    CHECK(std::ranges::all_of(
        ascii, [](char letter) { return static_cast<unsigned char>(letter) < 0x80; }));
    CHECK_FALSE(trouble_with(garden).has_value());
  }
}

TEST_CASE("what the settings would not take is told by its key, without file and line") {
  Garden garden = hochfeld();
  garden.broker.address = "http://example.org";
  const auto trouble = trouble_with(garden);
  REQUIRE(trouble);
  CHECK(trouble->starts_with("[broker] address: expected mqtt:// or mqtts://"));
}

TEST_CASE("a garden listens to what its sensors' topics begin with") {
  Garden garden = hochfeld();
  garden.sensors[0].topic = "homie/5/probe";
  CHECK(filters_for(garden.sensors) == std::vector<std::string>{"garden/#", "homie/#"});
  garden.sensors[0].topic = "lone";
  garden.sensors[1].topic = "/slash/first";
  garden.broker.listen = filters_for(garden.sensors);
  CHECK(garden.broker.listen == std::vector<std::string>{"/#", "lone/#"});
  check_same(read_back(settings_text(garden, kWide)), garden);
}

TEST_CASE("an id is made of the name, and is its own") {
  CHECK(own_id("North frame", {}, "place") == "north-frame");
  CHECK(own_id("North  Frame!", {"north-frame"}, "place") == "north-frame-2");
  CHECK(own_id("\xe6\x97\xa5\xe6\x9c\xac", {"place"}, "place") == "place-2");
}

}  // namespace
}  // namespace rimeward
