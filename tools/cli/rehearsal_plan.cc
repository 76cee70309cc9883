#include "tools/cli/rehearsal_plan.h"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <fstream>
#include <sstream>
#include <string_view>
#include <utility>
#include <vector>

#include <fmt/format.h>

#include "daemon/crops.h"
#include "daemon/notice/action_json.h"
#include "daemon/settings.h"
#include "sensors/escape.h"
#include "tools/cli/words.h"
#include "tools/recorded.h"

namespace rimeward {
namespace {

template <class T>
using Planned = tl::expected<T, Reply>;

tl::unexpected<Reply> misuse(std::string trouble) {
  return tl::unexpected(misused(std::move(trouble)));
}

tl::unexpected<Reply> failure(std::string trouble) {
  return tl::unexpected(could_not(std::move(trouble)));
}

Result<double> number_from(const Arguments& arguments, std::string_view name,
                           double lowest, double highest) {
  const std::string_view text = arguments.text(name).value_or("");
  double value = 0;
  const auto read = std::from_chars(text.data(), text.data() + text.size(), value);
  const bool whole = read.ec == std::errc{} && read.ptr == text.data() + text.size();
  if (!whole || !std::isfinite(value) || value < lowest || value > highest) {
    return refuse(fmt::format("{}: expected a number from {} to {}, got \"{}\"", name,
                              lowest, highest, escaped(text)));
  }
  return value;
}

Result<PlaceKind> kind_from(std::string_view text) {
  static constexpr std::pair<std::string_view, PlaceKind> kKinds[]{
      {"outdoors", PlaceKind::kOutdoors},     {"bed", PlaceKind::kBed},
      {"frame", PlaceKind::kFrame},           {"polytunnel", PlaceKind::kPolytunnel},
      {"greenhouse", PlaceKind::kGreenhouse},
  };
  for (const auto& [name, kind] : kKinds) {
    if (name == text) return kind;
  }
  return refuse(fmt::format(
      "--place-kind: expected outdoors, bed, frame, polytunnel or greenhouse, got \"{}\"",
      escaped(text)));
}

std::string topic_of(const std::string& place) {
  return "rehearsal/" + place;
}

// The id of its place, also where the file has no such column.
std::string place_of(const RecordedReading& reading) {
  return reading.place.empty() ? "place" : reading.place;
}

// One sensor a place, that sends what rimeward-play publishes; where the garden has one
// there, it keeps its name and its patience.
void listen_plainly(Garden& garden) {
  std::vector<Sensor> plain;
  for (const Place& place : garden.places) {
    Sensor sensor;
    sensor.id = place.id;
    const auto real = std::ranges::find_if(garden.sensors, [&](const Sensor& one) {
      return one.place == place.id && !is_forecast(one);
    });
    if (real != garden.sensors.end()) {
      sensor.id = real->id;
      sensor.silent_after = real->silent_after;
    }
    sensor.place = place.id;
    sensor.topic = topic_of(place.id);
    plain.push_back(std::move(sensor));
  }
  garden.sensors = std::move(plain);
}

// The places that the file names.
Result<std::vector<std::string>> places_in(const std::string& file) {
  auto recorded = RecordedFile::open(file);
  if (!recorded) return tl::unexpected(recorded.error());
  std::vector<std::string> places;
  while (true) {
    const auto reading = recorded->next();
    if (!reading) return tl::unexpected(reading.error());
    const std::optional<RecordedReading>& one = *reading;
    if (!one) break;
    const std::string id = place_of(*one);
    if (std::ranges::find(places, id) == places.end()) places.push_back(id);
  }
  return places;
}

Planned<Garden> garden_from_words(const Arguments& arguments) {
  for (const std::string_view name : {"--latitude", "--longitude", "--time-zone"}) {
    if (arguments.given(name)) continue;
    return misuse(
        fmt::format("{} is missing: say where the readings are from, or name a "
                    "place of the settings file by --place",
                    name));
  }
  const auto latitude = number_from(arguments, "--latitude", -90, 90);
  if (!latitude) return misuse(latitude.error().message);
  const auto longitude = number_from(arguments, "--longitude", -180, 180);
  if (!longitude) return misuse(longitude.error().message);
  const auto kind = kind_from(arguments.text("--place-kind").value_or("outdoors"));
  if (!kind) return misuse(kind.error().message);
  Celsius keep_above{0};
  if (arguments.given("--keep-above")) {
    const auto given = number_from(arguments, "--keep-above", -30, 30);
    if (!given) return misuse(given.error().message);
    keep_above = Celsius{*given};
  }
  const auto ids = places_in(std::string(*arguments.text("DATA")));
  if (!ids) return failure(ids.error().message);

  Garden garden;
  garden.name = "Rehearsal";
  garden.position = {*latitude, *longitude};
  garden.time_zone = *arguments.text("--time-zone");
  for (const std::string& id : *ids) {
    Place place;
    place.id = id;
    place.name = id;
    place.kind = *kind;
    place.keep_above = keep_above;
    garden.places.push_back(std::move(place));
  }
  listen_plainly(garden);
  return garden;
}

Planned<Garden> garden_from_settings(const Surroundings& around,
                                     const Arguments& arguments) {
  SettingsOutcome outcome = read_garden(around.config_file);
  if (!outcome) {
    std::string all;
    for (const std::string& mistake : outcome.error()) {
      all += (all.empty() ? "" : "\n") + mistake;
    }
    return failure(all);
  }
  Garden garden = std::move(*outcome);
  const std::vector<std::string> mistakes = add_crops(garden);
  if (!mistakes.empty()) return failure(mistakes.front());
  // A rehearsal tells nobody, and writes no letters.
  garden.routes.clear();
  garden.hours.morning_summary.reset();
  garden.hours.sunday_letter.reset();
  if (arguments.given("--log")) return garden;
  if (arguments.given("--garden")) {
    listen_plainly(garden);
    return garden;
  }
  const auto place = find_place(garden, *arguments.text("--place"));
  if (!place) return misuse(place.error().message);
  garden.places = {Place(**place)};
  listen_plainly(garden);
  return garden;
}

// What the gardener said meanwhile: a line of JSON each, in any order.
Result<std::vector<ActionRow>> told_in(const std::string& file, const Garden& garden) {
  std::ifstream stream(file);
  if (!stream) return refuse(file + ": cannot be read");
  std::vector<ActionRow> told;
  std::string line;
  for (std::size_t number = 1; std::getline(stream, line); ++number) {
    if (line.empty() || line.starts_with('#')) continue;
    auto action = action_from_json(line, garden, Instant::max(), Told::kInRehearsal);
    if (!action) {
      return refuse(fmt::format("{}:{}: {}", file, number, action.error().message));
    }
    told.push_back(std::move(*action));
  }
  std::ranges::stable_sort(told, {}, &ActionRow::at);
  return told;
}

}  // namespace

std::string rehearsal_topic(const Garden& garden, const RecordedReading& reading) {
  const bool only_one = garden.places.size() == 1;
  return topic_of(only_one ? garden.places.front().id : place_of(reading));
}

tl::expected<RehearsalPlan, Reply> plan_rehearsal(const Surroundings& around,
                                                  const Arguments& arguments) {
  const bool by_settings = arguments.given("--place") || arguments.given("--garden") ||
                           arguments.given("--log");
  auto garden = by_settings ? garden_from_settings(around, arguments)
                            : garden_from_words(arguments);
  if (!garden) return tl::unexpected(garden.error());
  RehearsalPlan plan{std::move(*garden), std::nullopt, {}};
  if (const auto file = arguments.text("--prior")) {
    std::ifstream stream{std::string(*file)};
    std::ostringstream text;
    text << stream.rdbuf();
    if (!stream) return failure(fmt::format("{}: cannot be read", *file));
    auto prior = prior_from_json(text.str());
    if (!prior) return failure(fmt::format("{}: {}", *file, prior.error().message));
    plan.prior = *prior;
  }
  if (const auto file = arguments.text("--told")) {
    auto told = told_in(std::string(*file), plan.garden);
    if (!told) return failure(told.error().message);
    plan.told = std::move(*told);
  }
  return plan;
}

}  // namespace rimeward
