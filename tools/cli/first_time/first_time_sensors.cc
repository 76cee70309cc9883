#include "tools/cli/first_time/first_time_sensors.h"

#include <algorithm>
#include <charconv>
#include <optional>
#include <set>

#include <fmt/format.h>

#include "daemon/notice/sensor_words.h"
#include "sensors/channel.h"
#include "sensors/escape.h"
#include "tools/cli/adoption.h"
#include "tools/cli/adoption_words.h"
#include "tools/cli/first_time/first_time_ear.h"
#include "tools/cli/first_time/first_time_places.h"
#include "tools/cli/first_time/first_time_settings.h"
#include "tools/cli/words.h"

namespace rimeward {
namespace {

constexpr std::string_view kLeaveOut = "-";
constexpr std::string_view kStopHere = ".";
constexpr std::size_t kLongestTopicShown = 200;
constexpr std::size_t kMostNumbers = 12;  // of one message that are asked for

std::vector<std::string_view> channel_names() {
  std::vector<std::string_view> names;
  for (const ChannelTraits& channel : all_channels())
    names.push_back(channel.name);
  return names;
}

// By its number in the list, its id or its name.
Result<const Place*> place_from(const Garden& garden, const std::string& typed) {
  std::size_t number = 0;
  const char* end = typed.data() + typed.size();
  const auto read = std::from_chars(typed.data(), end, number);
  if (read.ec == std::errc{} && read.ptr == end && number >= 1 &&
      number <= garden.places.size()) {
    return &garden.places[number - 1];
  }
  return find_place(garden, typed);
}

enum class Answer { kPlace, kNowhere, kNoneAnyMore };

struct Whereabouts {
  Answer answer = Answer::kNowhere;
  const Place* place = nullptr;  // kPlace
};

Whereabouts ask_place(const Dialogue& dialogue, const Candidate& candidate,
                      const Garden& garden) {
  const bool sure = !candidate.place_is_guess || garden.places.size() == 1;
  const Question question{
      .asks = "Which place is it in?",
      .usual = sure ? candidate.place->id : "",
      .help =
          "The place's number, id or name.\n"
          "- : leave this one out. . : leave out all that are left, too. Each can "
          "be added later."};
  return dialogue.ask(question, [&](const std::string& typed) -> Result<Whereabouts> {
    if (typed == kLeaveOut) return Whereabouts{.answer = Answer::kNowhere};
    if (typed == kStopHere) return Whereabouts{.answer = Answer::kNoneAnyMore};
    const auto place = place_from(garden, typed);
    if (!place) return tl::unexpected(place.error());
    return Whereabouts{.answer = Answer::kPlace, .place = *place};
  });
}

const Way& ask_way(const Dialogue& dialogue, const Candidate& candidate,
                   TemperatureUnit unit) {
  if (candidate.ways.size() == 1) return candidate.ways.front();
  std::vector<std::string_view> formats;
  dialogue.say("It can be read in more than one way:", 2);
  for (const Way& way : candidate.ways) {
    formats.push_back(way.format);
    dialogue.say(
        fmt::format("{} {}: {}", formats.size(), way.format, samples_text(way, unit)), 4);
  }
  return candidate.ways.at(dialogue.choose(
      {.asks = "Which is right?",
       .usual = std::string(formats.front()),
       .help = "Only one of them gives the values that the sensor means; its maker says "
               "which format it speaks.\n"
               "It can be changed later: the line `format` in the settings."},
      formats));
}

// What a number is of; nothing: of no channel.
std::optional<Channel> ask_channel(const Dialogue& dialogue, std::string asks,
                                   std::string_view usual, bool may_be_none) {
  using Found = std::optional<Channel>;
  const Question question{
      .asks = std::move(asks),
      .usual = std::string(usual),
      .help = fmt::format("One of {}.{}", fmt::join(channel_names(), ", "),
                          may_be_none ? "\n- : none of these; it is left out." : "")};
  return dialogue.ask(question, [may_be_none](const std::string& typed) -> Result<Found> {
    if (may_be_none && typed == kLeaveOut) return Found{};
    const auto choice = choice_from_text(typed, channel_names());
    if (!choice) return tl::unexpected(choice.error());
    return Found{all_channels()[*choice].channel};
  });
}

// Where the channels stand in a message that does not say it by keys that are known.
void ask_numbers(const Dialogue& dialogue, const Way& way, PayloadSpec& payload) {
  dialogue.say("It holds numbers under names that are not known. What are they?", 2);
  std::size_t asked = 0;
  for (const FoundNumber& number : way.numbers) {
    if (!toml_string(number.where, {}) || has_control_characters(number.where)) continue;
    if (++asked > kMostNumbers) break;
    const bool is_free = number.channel && !payload.where.contains(*number.channel);
    const auto channel = ask_channel(
        dialogue,
        fmt::format("{}, {:g}:", escaped(number.where, kLongestTopicShown), number.value),
        is_free ? traits(*number.channel).name : kLeaveOut, true);
    if (!channel) continue;
    if (!payload.where.emplace(*channel, number.where).second) {
      dialogue.say(fmt::format("It has one of {} already; this one is left out.",
                               words_for(*channel)),
                   2);
    }
  }
}

// Asked where people think in Fahrenheit, for then a sensor may, too.
void ask_scale(const Dialogue& dialogue, const Way& way, Sensor& sensor,
               TemperatureUnit unit) {
  if (unit != TemperatureUnit::kFahrenheit) return;
  if (sensor.format != "number" && sensor.format != "json") return;
  const auto said = std::ranges::find_if(
      way.samples, [](const Sample& sample) { return is_temperature(sample.channel); });
  const auto lone = sensor.payload.lone_channel;
  if (said == way.samples.end() || (lone && !is_temperature(*lone))) return;
  dialogue.say(fmt::format("Read as degrees Celsius, that is {}.",
                           value_text(said->channel, said->value, unit)),
               2);
  if (!dialogue.agrees("Is that right? no: it says Fahrenheit.", true)) {
    sensor.payload.scale = TemperatureScale::kFahrenheit;
  }
}

std::string ask_id(const Dialogue& dialogue, const std::string& usual,
                   const Garden& garden) {
  std::vector<std::string> taken;
  for (const Sensor& sensor : garden.sensors)
    taken.push_back(sensor.id);
  const Question question{
      .asks = "What is the sensor called?",
      .usual = own_id(usual, taken, "sensor"),
      .help =
          "The id by which it goes in the settings, in notices and at the terminal: "
          "small letters, digits and hyphens.\n"
          "Leave it once it is chosen: with a new id a sensor begins anew, without "
          "its past."};
  return dialogue.ask(question, [&](const std::string& typed) -> Result<std::string> {
    std::string id = id_from(typed);
    if (id.empty()) return refuse("an id has at least one letter or digit");
    if (std::ranges::find(taken, id) == taken.end()) return id;
    return refuse(fmt::format("\"{}\" is the id of another sensor", id));
  });
}

// Nothing: no number of it is of any use.
std::optional<Sensor> ask_sensor(const Dialogue& dialogue, const Candidate& candidate,
                                 const Place& place, const Garden& garden) {
  Sensor sensor;
  sensor.place = place.id;
  sensor.topic = candidate.topic;
  const Way& way = ask_way(dialogue, candidate, garden.units);
  sensor.format = way.format;
  sensor.payload.lone_channel = way.lone_channel;
  if (candidate.channel_unknown && &way == &candidate.ways.front()) {
    sensor.payload.lone_channel = ask_channel(
        dialogue, "What is the number of?", traits(Channel::kAirTemperature).name, false);
  }
  if (!way.numbers.empty()) {
    ask_numbers(dialogue, way, sensor.payload);
    if (sensor.payload.where.empty()) return std::nullopt;
  }
  ask_scale(dialogue, way, sensor, garden.units);
  sensor.id = ask_id(dialogue, candidate.id, garden);
  return sensor;
}

void list_places(const Dialogue& dialogue, const Garden& garden) {
  dialogue.say("Your places:");
  for (std::size_t i = 0; i < garden.places.size(); ++i) {
    dialogue.say(fmt::format("{} {} ({})", i + 1, escaped(garden.places[i].name, 200),
                             garden.places[i].id),
                 2);
  }
  dialogue.pause();
}

// What the settings would not take is left out, with the reason.
void add(const Dialogue& dialogue, std::optional<Sensor> sensor, Garden& garden) {
  if (!sensor) {
    dialogue.say("Nothing of it is left to read, so it is left out.", 2);
    return;
  }
  garden.sensors.push_back(*std::move(sensor));
  if (const auto trouble = trouble_with(garden)) {
    dialogue.say(fmt::format("It is left out: {}.", *trouble), 2);
    garden.sensors.pop_back();
  }
}

}  // namespace

std::vector<std::string> filters_for(std::span<const Sensor> sensors) {
  std::set<std::string> filters;
  for (const Sensor& sensor : sensors)
    filters.insert(sensor.topic.substr(0, sensor.topic.find('/')) + "/#");
  return {filters.begin(), filters.end()};
}

void ask_sensors(const Dialogue& dialogue, const std::vector<HeardRow>& heard,
                 Garden& garden) {
  const Garden before = garden;
  std::vector<Candidate> found = candidates(before, heard);
  std::erase_if(found, [](const Candidate& each) { return !each.trouble.empty(); });
  if (!found.empty()) list_places(dialogue, garden);
  for (const Candidate& candidate : found) {
    dialogue.say(fmt::format("{} says: {}.", escaped(candidate.topic, kLongestTopicShown),
                             heard_text(candidate, garden.units)));
    const Whereabouts where = ask_place(dialogue, candidate, before);
    if (where.answer == Answer::kNoneAnyMore) break;
    if (where.answer == Answer::kPlace) {
      add(dialogue, ask_sensor(dialogue, candidate, *where.place, garden), garden);
    }
    dialogue.pause();
  }
  // Narrowed by the gardener: that stands.
  if (garden.broker.listen != std::vector<std::string>{"#"}) return;
  garden.broker.listen = filters_for(garden.sensors);
  if (garden.sensors.empty()) garden.broker.listen = {"garden/#"};
}

}  // namespace rimeward
