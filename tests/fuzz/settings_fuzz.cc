// The settings file: what is refused is refused in words that can be shown; what is
// accepted is sound, and written down and read again it is the same garden.
//
// An input is the file.

#include <algorithm>
#include <array>
#include <chrono>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <vector>

#include <fmt/format.h>

#include "daemon/settings.h"
#include "daemon/settings_address.h"
#include "tests/fuzz/demands.h"

using namespace rimeward;

namespace {

// Makes the text of a settings file.
class File {
 public:
  void heading(std::string_view text) { text_ += fmt::format("{}\n", text); }
  void text(std::string_view key, std::string_view value) {
    text_ += fmt::format("{} = {}\n", key, quoted(value));
  }
  void text_if_any(std::string_view key, std::string_view value) {
    if (!value.empty()) text(key, value);
  }
  // Adding zero makes 0 of a -0.0, which is written as another number.
  void number(std::string_view key, double value) {
    text_ += fmt::format("{} = {}\n", key, value + 0.0);
  }
  void time_of_day(std::string_view key, std::chrono::minutes time) {
    text(key, clock(time));
  }
  void time_if_any(std::string_view key, std::optional<std::chrono::minutes> time) {
    if (time) time_of_day(key, *time);
  }
  void span_if_any(std::string_view key, const std::optional<DailySpan>& span) {
    if (span) text(key, clock(span->from) + "-" + clock(span->to));
  }
  void flag(std::string_view key, bool value) {
    text_ += fmt::format("{} = {}\n", key, value);
  }
  void list(std::string_view key, const std::vector<std::string>& values) {
    std::vector<std::string> texts;
    for (const std::string& value : values)
      texts.push_back(quoted(value));
    text_ += fmt::format("{} = [{}]\n", key, fmt::join(texts, ", "));
  }

  const std::string& all() const { return text_; }

 private:
  static std::string clock(std::chrono::minutes time) {
    return fmt::format("{:02}:{:02}", time.count() / 60, time.count() % 60);
  }
  // The reader refuses control characters, so only these two are special.
  static std::string quoted(std::string_view value) {
    std::string quoted = "\"";
    for (const char c : value) {
      if (c == '"' || c == '\\') quoted += '\\';
      quoted += c;
    }
    return quoted + "\"";
  }

  std::string text_;
};

void write_site(const Garden& garden, File& file) {
  file.heading("[garden]");
  file.text("name", garden.name);
  file.number("latitude", garden.position.latitude);
  file.number("longitude", garden.position.longitude);
  file.text("time_zone", garden.time_zone);
  file.time_of_day("day_starts", garden.day_starts);
  file.text("units",
            garden.units == TemperatureUnit::kCelsius ? "celsius" : "fahrenheit");
  file.text("language", garden.language);
}

void write_hours(const GardenerHours& hours, File& file) {
  file.heading("[gardener]");
  file.time_if_any("evening_by", hours.evening_by);
  file.time_if_any("morning_from", hours.morning_from);
  file.time_if_any("morning_summary", hours.morning_summary);
  file.time_if_any("sunday_letter", hours.sunday_letter);
}

void write_broker(const Broker& broker, File& file) {
  file.heading("[broker]");
  file.text("address", broker.address);
  file.text("client_id", broker.client_id);
  file.list("listen", broker.listen);
  file.text_if_any("user", broker.user);
  file.text_if_any("password_file", broker.password_file);
  file.text_if_any("ca_file", broker.ca_file);
  file.text_if_any("certificate", broker.certificate);
  file.text_if_any("key", broker.key);
  file.text("status_topic", broker.status_topic);
  file.text_if_any("command_topic", broker.command_topic);
}

void write_store(const StoreSettings& store, File& file) {
  file.heading("[store]");
  file.text("file", store.file);
  file.text("spool", store.spool);
  file.text("commit_every", fmt::format("{} ms", store.commit_every.count()));
}

void write_place(const Place& place, File& file) {
  constexpr std::array<std::string_view, 5> kKinds{"greenhouse", "polytunnel", "frame",
                                                   "bed", "outdoors"};
  file.heading("[[place]]");
  file.text("id", place.id);
  file.text("name", place.name);
  file.text("kind", kKinds.at(static_cast<std::size_t>(place.kind)));
  if (place.keep_above) file.number("keep_above", place.keep_above->degrees);
  if (place.vent_above) file.number("vent_above", place.vent_above->degrees);
  file.number("fleece_layers", place.fleece_layers);
  file.number("act_at", place.act_at.value);
}

void write_sensor(const Sensor& sensor, File& file) {
  const PayloadSpec& payload = sensor.payload;
  file.heading("[[sensor]]");
  file.text("id", sensor.id);
  file.text("place", sensor.place);
  file.text("topic", sensor.topic);
  file.text_if_any("format", sensor.format);
  if (sensor.type != nullptr) file.text("type", sensor.type->name);
  if (sensor.battery_low) file.number("battery_low", *sensor.battery_low);
  if (sensor.silent_after) {
    file.text("silent_after", fmt::format("{} s", sensor.silent_after->count()));
  }
  for (const auto& [channel, where] : payload.where)
    file.text(traits(channel).name, where);
  if (payload.time_pointer) file.text("time", *payload.time_pointer);
  if (payload.data_pointer) file.text("data", *payload.data_pointer);
  if (payload.lone_channel) file.text("channel", traits(*payload.lone_channel).name);
  if (payload.scale == TemperatureScale::kFahrenheit) file.text("unit", "fahrenheit");
}

void write_route(const RouteSettings& route, File& file) {
  file.heading("[[route]]");
  file.text("kind", route.kind);
  file.list("for", route.kinds_for);
  file.list("places", route.places);
  file.span_if_any("quiet", route.quiet);
  file.time_if_any("digest", route.digest);
  if (route.kind == "mqtt") return file.text("topic", route.topic);
  file.text("time_limit", fmt::format("{} s", route.time_limit.count()));
  if (route.kind == "command") return file.list("run", route.run);
  file.text_if_any("ca_file", route.ca_file);
  if (route.kind == "http") {
    file.text("url", route.address);
    file.text("format", route.as_text ? "text" : "json");
    file.list("headers", route.headers);
    return file.text_if_any("bearer_file", route.bearer_file);
  }
  file.text("server", route.address);
  if (!route.encrypted) file.flag("encrypted", false);
  file.text_if_any("user", route.user);
  file.text_if_any("password_file", route.password_file);
  file.text("from", route.from);
  file.list("to", route.to);
}

std::string written(const Garden& garden) {
  File file;
  write_site(garden, file);
  write_hours(garden.hours, file);
  write_broker(garden.broker, file);
  write_store(garden.store, file);
  for (const Place& place : garden.places)
    write_place(place, file);
  for (const Sensor& sensor : garden.sensors)
    write_sensor(sensor, file);
  for (const RouteSettings& route : garden.routes)
    write_route(route, file);
  return file.all();
}

template <class Items>
std::set<std::string_view> distinct_ids(const Items& items) {
  std::set<std::string_view> ids;
  for (const auto& item : items)
    fuzz::demand(ids.insert(item.id).second, "ids that are unique");
  return ids;
}

// What goes into the headers of a letter or a request cannot end one.
void demand_sound(const RouteSettings& route) {
  const auto is_line = [](const std::string& text) {
    return text.find_first_of("\r\n") == std::string::npos;
  };
  fuzz::demand(std::ranges::all_of(route.headers, is_line), "headers of one line");
  for (const std::string& mailbox : route.to)
    fuzz::demand(is_mailbox(mailbox), "mailboxes to write to");
  if (route.kind == "email") {
    fuzz::demand(is_mailbox(route.from), "a mailbox to write from");
    fuzz::demand(!route.to.empty(), "somebody to write to");
  }
  const bool is_remote = route.kind == "email" || route.kind == "http";
  fuzz::demand(is_remote != route.address.empty(), "an address where one is needed");
  fuzz::demand(!route.quiet || route.quiet->from != route.quiet->to, "a quiet that ends");
}

void demand_sound(const Garden& garden) {
  const auto places = distinct_ids(garden.places);
  fuzz::demand(!places.empty(), "a place");
  fuzz::demand(!garden.broker.listen.empty(), "something to listen to");
  distinct_ids(garden.sensors);
  for (const Sensor& sensor : garden.sensors) {
    fuzz::demand(places.contains(sensor.place), "sensors in places of the garden");
    fuzz::demand(sensor.format.empty() || find_decoder(sensor.format) != nullptr,
                 "formats that can be read");
  }
  for (const RouteSettings& route : garden.routes) {
    for (const std::string& place : route.places)
      fuzz::demand(places.contains(place), "routes for places of the garden");
    demand_sound(route);
  }
}

void demand_readable_again(const Garden& garden) {
  const std::string text = written(garden);
  const auto again = read_garden_text(text, "garden.toml");
  if (!again) fmt::print(stderr, "{}{}\n", text, fmt::join(again.error(), "\n"));
  fuzz::demand(again.has_value(), "a written garden that can be read");
  fuzz::demand(written(*again) == text, "the garden that was written");
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  fuzz::Input input(data, size);
  const auto garden = read_garden_text(input.rest(), "garden.toml");
  if (garden) {
    demand_sound(*garden);
    demand_readable_again(*garden);
    return 0;
  }
  fuzz::demand(!garden.error().empty(), "a reason to refuse the file");
  for (const std::string& mistake : garden.error()) {
    fuzz::demand_words(mistake);
    fuzz::demand(mistake.starts_with("garden.toml:"), "mistakes that name the file");
  }
  return 0;
}
