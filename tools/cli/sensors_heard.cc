// `rimeward sensors --heard`: what is heard and belongs to no sensor, and the lines that
// would adopt it.

#include <algorithm>
#include <string>
#include <vector>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "sensors/escape.h"
#include "tools/cli/adoption.h"
#include "tools/cli/adoption_words.h"
#include "tools/cli/json_text.h"
#include "tools/cli/sensors_views.h"
#include "tools/cli/words.h"

namespace rimeward {
namespace {

using Json = nlohmann::ordered_json;

constexpr std::size_t kLongestTopic = 300;

std::string times_text(const Context& context, const Candidate& candidate) {
  std::string text = fmt::format(
      "heard {}, {}, since {}", when_text(candidate.last_at, context.now, context.zone),
      age_text(candidate.last_at, context.now),
      when_text(candidate.first_at, context.now, context.zone));
  if (candidate.is_device) text += fmt::format(", on {} topics", candidate.topics);
  return text;
}

std::string section(const Context& context, const Candidate& candidate) {
  const Screen& screen = context.around.screen;
  std::string text = "\n";
  text += paragraphs(escaped(candidate.topic, kLongestTopic), 0, screen);
  text += paragraphs(times_text(context, candidate), 2, screen);
  text += paragraphs(says_text(candidate, context.garden.units), 2, screen);
  const std::string lines = settings_lines(candidate, screen);
  return lines.empty() ? text : text + "\n" + lines;
}

// A sensor that is not heard at all may be kept out by the filters.
std::string how_to_hear_more(const Context& context) {
  std::vector<std::string> filters;
  for (const std::string& filter : context.garden.broker.listen) {
    filters.push_back(fmt::format("\"{}\"", escaped(filter, kLongestTopic)));
  }
  const std::string listen = fmt::format("{}", fmt::join(filters, ", "));
  return fmt::format(
      "The garden listens to {} and hears nothing beside. To hear more, add a filter in "
      "the settings, such as [broker] listen = [{}, \"homie/#\"].",
      fmt::join(filters, " and "), listen);
}

std::string introduction(const Context& context, const std::vector<Candidate>& found) {
  if (found.empty()) return "Nothing is heard that belongs to no sensor.";
  const auto readable = std::ranges::count_if(
      found, [](const Candidate& each) { return each.trouble.empty(); });
  std::string text =
      found.size() == 1
          ? std::string("One topic or device is heard that belongs to no sensor.")
          : fmt::format("{} topics or devices are heard that belong to no sensor.",
                        found.size());
  if (readable == 0) return text;
  return text +
         fmt::format(
             " To make a sensor of one, check its lines, paste them at the end of {}, "
             "and let rimewardd read it again (systemctl reload rimeward).",
             escaped(context.around.config_file.string(), kLongestTopic));
}

std::string text_of(const Context& context, const std::vector<Candidate>& found) {
  const Screen& screen = context.around.screen;
  std::string text =
      paragraphs(garden_heading(context.garden, context.zone, context.now), 0, screen);
  text += "\n" + paragraphs(introduction(context, found), 0, screen);
  for (const Candidate& candidate : found)
    text += section(context, candidate);
  return text + "\n" + paragraphs(how_to_hear_more(context), 0, screen);
}

Json json_of_way(const Way& way) {
  Json json{
      {"format", way.format}, {"values", Json::array()}, {"numbers", Json::array()}};
  for (const Sample& sample : way.samples) {
    json["values"].push_back({{"channel", traits(sample.channel).name},
                              {"value", sample.value},
                              {"unit", traits(sample.channel).unit}});
  }
  for (const FoundNumber& number : way.numbers) {
    json["numbers"].push_back(
        {{"where", number.where},
         {"value", number.value},
         {"channel", number.channel ? Json(traits(*number.channel).name) : Json()}});
  }
  return json;
}

Json json_of_candidate(const Context& context, const Candidate& candidate) {
  Json json{{"topic", candidate.topic},
            {"device", candidate.is_device},
            {"topics", candidate.topics},
            {"first_at", json_of(std::optional(candidate.first_at))},
            {"last_at", json_of(std::optional(candidate.last_at))},
            {"last_local", json_local(candidate.last_at, context.zone)},
            {"payload", candidate.is_device ? Json() : Json(candidate.payload)},
            {"readable", candidate.trouble.empty()},
            {"trouble", candidate.trouble.empty() ? Json() : Json(candidate.trouble)},
            {"channel_unknown", candidate.channel_unknown},
            {"ways", Json::array()}};
  for (const Way& way : candidate.ways)
    json["ways"].push_back(json_of_way(way));
  const bool adoptable = candidate.place != nullptr;
  json["sensor"] = adoptable ? Json(candidate.id) : Json();
  json["place"] = adoptable ? Json(candidate.place->id) : Json();
  json["place_is_a_guess"] = candidate.place_is_guess;
  json["settings"] = settings_lines(candidate, {});
  return json;
}

std::string json_text_of(const Context& context, const std::vector<Candidate>& found) {
  Json json = json_heading(context);
  json["listen"] = context.garden.broker.listen;
  json["heard"] = Json::array();
  for (const Candidate& candidate : found) {
    json["heard"].push_back(json_of_candidate(context, candidate));
  }
  return json_text(json);
}

}  // namespace

Reply heard_topics(const Context& context) {
  const std::vector<HeardRow> heard = context.store.heard();
  const std::vector<Candidate> found = candidates(context.garden, heard);
  return said(context.around.format == Format::kJson ? json_text_of(context, found)
                                                     : text_of(context, found));
}

}  // namespace rimeward
