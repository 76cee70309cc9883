#include "daemon/settings.h"

#include <algorithm>
#include <array>
#include <chrono>
#include <fstream>
#include <iterator>
#include <optional>
#include <system_error>
#include <utility>

#include <fmt/format.h>

#include "daemon/base/keys.h"
#include "daemon/base/text.h"
#include "daemon/base/zone.h"
#include "daemon/settings_advice.h"
#include "daemon/settings_parts.h"
#include "sensors/escape.h"
#include "sensors/topic.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;

constexpr std::array<std::string_view, 2> kUnits{"celsius", "fahrenheit"};
constexpr std::array<std::string_view, 5> kPlaceKinds{"greenhouse", "polytunnel", "frame",
                                                      "bed", "outdoors"};
constexpr std::array kLanguages{
#define LANGUAGE(code, table) std::string_view(#code),
#include "daemon/notice/languages.def"
#undef LANGUAGE
};

constexpr std::string_view kPlain = "mqtt://";
constexpr std::string_view kSecure = "mqtts://";

constexpr Range kLatitudes{-90, 90};
constexpr Range kLongitudes{-180, 180};
// Beyond these lies no plant's limit, but a value in degrees Fahrenheit may.
constexpr Range kKeepAbove{-30, 30};
constexpr Range kVentAbove{0, 50};
constexpr Range kLayers{0, 9};
constexpr Range kActAt{0.01, 0.99};
constexpr DurationRange kCommitEvery{100ms, 1h};
// Longer than any sensor may be late, and than any outlook or chart of readings looks
// back.
constexpr DurationRange kKeepReadings{std::chrono::days{90}, std::chrono::days{36'500}};
constexpr std::chrono::minutes kNoon = 12h;

// "north-frame" becomes "North frame".
std::string name_from(std::string id) {
  std::ranges::replace(id, '-', ' ');
  if (!id.empty() && id[0] >= 'a' && id[0] <= 'z') {
    id[0] = static_cast<char>(id[0] - 'a' + 'A');
  }
  return id;
}

void read_site(Keys keys, Garden& garden) {
  keys.require("name", "call the garden something, such as name = \"School garden\"");
  set(garden.name, keys.text("name"));
  keys.require("latitude", "degrees, north is positive, such as latitude = 48.41");
  set(garden.position.latitude, keys.number("latitude", kLatitudes));
  keys.require("longitude", "degrees, east is positive, such as longitude = 9.52");
  set(garden.position.longitude, keys.number("longitude", kLongitudes));
  keys.require("time_zone", "an IANA name, such as time_zone = \"Europe/Berlin\"");
  set(garden.time_zone, keys.text("time_zone"));
  if (!garden.time_zone.empty()) {
    const auto zone = Zone::named(garden.time_zone);
    if (!zone) keys.mistake("time_zone", zone.error().message);
  }
  set(garden.day_starts, keys.time_of_day("day_starts"));
  set(garden.crops_file, keys.text("crops"));
  if (const auto unit = keys.choice("units", kUnits)) {
    garden.units = *unit == 0 ? TemperatureUnit::kCelsius : TemperatureUnit::kFahrenheit;
  }
  if (const auto language = keys.choice("language", kLanguages)) {
    garden.language = kLanguages.at(*language);
  }
  keys.refuse_unread();
}

void read_hours(Keys keys, GardenerHours& hours) {
  hours.evening_by = keys.time_of_day("evening_by");
  if (hours.evening_by && *hours.evening_by <= kNoon) {
    keys.mistake("evening_by",
                 "is not after noon; give the hour by which you are done in the evening, "
                 "such as \"19:30\"");
  }
  hours.morning_from = keys.time_of_day("morning_from");
  if (hours.morning_from && *hours.morning_from >= kNoon) {
    keys.mistake("morning_from",
                 "is not before noon; give the hour from which you can be in the garden, "
                 "such as \"07:00\"");
  }
  hours.morning_summary = keys.time_of_day("morning_summary");
  hours.sunday_letter = keys.time_of_day("sunday_letter");
  keys.refuse_unread();
}

void check_address(Keys& keys, const Broker& broker) {
  const std::string_view address = broker.address;
  const bool secure = address.starts_with(kSecure);
  const std::size_t scheme = secure ? kSecure.size() : kPlain.size();
  if ((!secure && !address.starts_with(kPlain)) || address.size() == scheme) {
    keys.mistake("address",
                 fmt::format("expected mqtt:// or mqtts:// and a host, such as "
                             "\"mqtt://127.0.0.1:1883\", got \"{}\"",
                             escaped(address)));
    return;
  }
  if (address.find('@') != std::string_view::npos) {
    keys.mistake("address", "has a user in it; use the keys user and password_file");
  }
  for (const char* key : {"ca_file", "certificate", "key"}) {
    if (secure || !keys.has(key)) continue;
    keys.mistake(key, "the address is mqtt://, which encrypts nothing; write mqtts://");
  }
}

void read_broker(Keys& keys, Broker& broker) {
  set(broker.address, keys.text("address"));
  set(broker.client_id, keys.text("client_id"));
  broker.listen = {"garden/#"};
  set(broker.listen, keys.list("listen"));
  if (broker.listen.empty()) {
    keys.mistake("listen", "is empty; name what to listen to, such as [\"garden/#\"]");
  }
  for (const std::string& filter : broker.listen) {
    if (is_valid_filter(filter)) continue;
    keys.mistake("listen",
                 fmt::format("\"{}\" is no topic filter; + and # stand for whole "
                             "levels, # for the last ones only",
                             escaped(filter)));
  }
  set(broker.user, keys.text("user"));
  set(broker.password_file, keys.text("password_file"));
  set(broker.ca_file, keys.text("ca_file"));
  set(broker.certificate, keys.text("certificate"));
  set(broker.key, keys.text("key"));
  set(broker.status_topic, keys.text("status_topic"));
  if (!is_valid_topic(broker.status_topic)) {
    keys.mistake("status_topic", "has a wildcard; name one topic");
  }
  if (const auto topic = keys.text("command_topic")) {
    broker.command_topic = *topic;
    if (!is_valid_topic(*topic)) {
      keys.mistake("command_topic", "has a wildcard; name one topic");
    } else if (*topic == broker.status_topic) {
      keys.mistake("command_topic", "is status_topic too; give each its own");
    }
  }
  if (keys.has("password_file") && !keys.has("user")) {
    keys.mistake("password_file", "there is no user; add user = \"...\"");
  }
  if (keys.has("certificate") != keys.has("key")) {
    keys.mistake(keys.has("key") ? "key" : "certificate",
                 "certificate and key belong together; give both");
  }
  check_address(keys, broker);
  keys.refuse_unread();
}

void read_store(Keys keys, StoreSettings& store) {
  set(store.file, keys.text("file"));
  set(store.spool, keys.text("spool"));
  set(store.commit_every, keys.duration("commit_every", kCommitEvery));
  store.keep_readings = keys.duration_or("for ever", "keep_readings", kKeepReadings);
  keys.refuse_unread();
}

void read_place(Keys keys, std::vector<Place>& places) {
  Place place;
  place.id = read_id(keys, ids_of(places));
  place.name = name_from(place.id);
  set(place.name, keys.text("name"));
  keys.require("kind", "one of greenhouse, polytunnel, frame, bed, outdoors");
  const auto kind = keys.choice("kind", kPlaceKinds);
  if (kind) place.kind = static_cast<PlaceKind>(*kind);
  if (const auto limit = keys.number("keep_above", kKeepAbove)) {
    place.keep_above = Celsius{*limit};
  }
  if (const auto limit = keys.number("vent_above", kVentAbove)) {
    place.vent_above = Celsius{*limit};
  }
  if (place.vent_above && place.keep_above && *place.vent_above <= *place.keep_above) {
    keys.mistake("vent_above",
                 fmt::format("{} is not above keep_above, {}; raise it",
                             place.vent_above->degrees, place.keep_above->degrees));
  }
  read_water_marks(keys, place);
  set(place.fleece_layers, keys.whole("fleece_layers", kLayers));
  if (const auto odds = keys.number("act_at", kActAt)) place.act_at = Odds{*odds};
  keys.refuse_unread();
  if (!place.id.empty()) places.push_back(std::move(place));
}

// A word of the gardener's must not be taken for a reading, nor a reading for a word.
void check_command_topic(Keys& keys, const Garden& garden) {
  const std::string& topic = garden.broker.command_topic;
  if (topic.empty()) return;
  for (const Sensor& sensor : garden.sensors) {
    const Decoder* decoder = find_decoder(sensor.format);
    const bool has_below = decoder != nullptr && decoder->spans_topics;
    if (topic != sensor.topic && !(has_below && topic.starts_with(sensor.topic + "/"))) {
      continue;
    }
    keys.mistake("command_topic",
                 fmt::format("sensor \"{}\" publishes there; give it a topic of its own, "
                             "such as \"rimeward/do\"",
                             escaped(sensor.id)));
  }
}

Garden read_all(Keys& file, Mistakes& mistakes) {
  Garden garden;
  read_site(file.table("garden"), garden);
  read_hours(file.table("gardener"), garden.hours);
  Keys broker = file.table("broker");
  read_broker(broker, garden.broker);
  read_store(file.table("store"), garden.store);
  read_advice(file, garden.advice);
  const auto places = file.tables("place");
  if (places.empty()) mistakes.add(1, "no place to look after; add a [[place]]");
  for (const Keys& keys : places) {
    read_place(keys, garden.places);
  }
  for (const Keys& keys : file.tables("sensor")) {
    read_sensor(keys, garden);
  }
  check_command_topic(broker, garden);
  for (const Keys& keys : file.tables("route")) {
    read_route(keys, garden);
  }
  file.refuse_unread();
  return garden;
}

}  // namespace

SettingsOutcome read_garden(const std::filesystem::path& file) {
  Mistakes mistakes(file.string());
  std::error_code unknown;  // counts as "does not exist" and "is no folder"
  if (!std::filesystem::exists(file, unknown)) {
    mistakes.add("no such file; name the settings file with --config FILE");
    return tl::unexpected(mistakes.in_order_of_lines());
  }
  std::ifstream stream(file, std::ios::binary);
  // A folder opens, but does not read.
  if (!stream.is_open() || std::filesystem::is_directory(file, unknown)) {
    mistakes.add("cannot be read; let the user that runs this read it");
    return tl::unexpected(mistakes.in_order_of_lines());
  }
  const std::string text(std::istreambuf_iterator<char>(stream), {});
  SettingsOutcome garden = read_garden_text(text, file.string());
  // A path in the file is one from where the file lies.
  if (garden && !garden->crops_file.empty()) {
    garden->crops_file = file.parent_path() / garden->crops_file;
  }
  return garden;
}

SettingsOutcome read_garden_text(std::string_view toml, std::string_view file_name) {
  Mistakes mistakes{std::string(file_name)};
  auto file = Keys::of_text(toml, mistakes);
  if (!file) return tl::unexpected(mistakes.in_order_of_lines());
  Garden garden = read_all(*file, mistakes);
  if (!mistakes.empty()) return tl::unexpected(mistakes.in_order_of_lines());
  return garden;
}

}  // namespace rimeward
