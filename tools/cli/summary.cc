#include "tools/cli/summary.h"

#include <algorithm>
#include <chrono>
#include <filesystem>
#include <optional>
#include <string>
#include <system_error>
#include <utility>
#include <vector>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "daemon/notice/words.h"
#include "daemon/store/place_hours.h"
#include "tools/cli/command_line.h"
#include "tools/cli/json_text.h"
#include "tools/cli/table.h"
#include "tools/cli/tonight.h"
#include "tools/cli/words.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;
using Json = nlohmann::ordered_json;

// What is older is told by its age, as in `rimeward now`.
constexpr auto kFresh = 1h;
constexpr std::size_t kTried = 4;

struct PlaceSummary {
  const PlaceTonight* tonight = nullptr;
  std::optional<Latest> air{};
};

struct Trial {
  std::string command;
  std::string why;
};

struct Answer {
  TonightAnswer tonight;
  std::vector<PlaceSummary> places;  // in the order of the settings
  std::vector<NoticeRow> pending;
  std::vector<Trial> trials;
};

// --- what to try

const NoticeRow* find_kind(const std::vector<NoticeRow>& pending, std::string_view kind) {
  const auto found = std::ranges::find(pending, kind, &NoticeRow::kind);
  return found == pending.end() ? nullptr : &*found;
}

// Where something goes on: the coldest tonight, else the first.
const Place* place_to_look_at(const Answer& answer) {
  const Place* place = nullptr;
  std::optional<Celsius> coldest;
  for (const PlaceSummary& one : answer.places) {
    const auto& expected = one.tonight->expected;
    if (place == nullptr) place = one.tonight->place;
    if (!expected || (coldest && *coldest <= expected->low)) continue;
    coldest = expected->low;
    place = one.tonight->place;
  }
  return place;
}

bool has_outlook(const Answer& answer) {
  return std::ranges::any_of(answer.places, [](const PlaceSummary& one) {
    return one.tonight->expected.has_value();
  });
}

std::vector<Trial> trials_of(const Context& context, const Answer& answer) {
  std::vector<Trial> trials;
  if (const NoticeRow* const cover = find_kind(answer.pending, "cover")) {
    trials.push_back({fmt::format("rimeward cover {}", cover->place),
                      "write it down once it is covered"});
  }
  if (find_kind(answer.pending, "silent") != nullptr) {
    trials.push_back({"rimeward sensors", "which sensor is silent, and since when"});
  }
  if (!context.store.heard().empty()) {
    trials.push_back(
        {"rimeward sensors --heard", "topics are heard that belong to no sensor yet"});
  }
  if (!std::ranges::any_of(context.store.batches(),
                           [](const BatchRow& batch) { return !batch.finished; })) {
    trials.push_back(
        {"rimeward batch add", "tell what is sown, and be told when it is due"});
  }
  if (has_outlook(answer)) {
    trials.push_back({"rimeward tonight", "the lows in full, under fleece and without"});
  }
  trials.push_back({"rimeward week", "highs and lows of the last seven days"});
  if (const Place* const place = place_to_look_at(answer)) {
    trials.push_back(
        {fmt::format("rimeward chart {}", place->id), "how the air went there"});
  }
  if (trials.size() > kTried) trials.resize(kTried);
  return trials;
}

Answer answer_summary(const Context& context) {
  Answer answer{.tonight = answer_tonight(context),
                .places = {},
                .pending = context.store.open_notices(),
                .trials = {}};
  const std::vector<SeriesRow> all = context.store.all_series();
  for (const PlaceTonight& tonight : answer.tonight.places) {
    PlaceSummary& place = answer.places.emplace_back();
    place.tonight = &tonight;
    const auto air =
        series_of(all, context.garden, *tonight.place, Channel::kAirTemperature);
    if (air) place.air = context.store.latest(*air);
  }
  answer.trials = trials_of(context, answer);
  return answer;
}

// --- text

std::string odds_text(const Context& context, const PlaceTonight& tonight) {
  if (!tonight.odds || !tonight.place->keep_above) return {};
  return fmt::format("{} below {}", text_of(*tonight.odds),
                     number(*tonight.place->keep_above, context.garden.units));
}

std::string note_text(const Context& context, const PlaceSummary& place) {
  std::string text;
  if (!place.air) {
    text = "never heard";
  } else if (const std::chrono::seconds age = context.now - place.air->time;
             age > kFresh) {
    text = age < 48h ? fmt::format("heard {} h ago", age / 1h)
                     : fmt::format("heard {} days ago", age / 24h);
  }
  if (place.tonight->cover_layers == 0) return text;
  return text + (text.empty() ? "" : ", ") + cover_text(place.tonight->cover_layers) +
         " on";
}

std::string places_table(const Context& context, const Answer& answer) {
  using enum Column::Align;
  const TemperatureUnit unit = context.garden.units;
  Table table({{.heading = "place"},
               {.heading = fmt::format("air {}", degree_sign(unit)), .align = kRight},
               {.heading = fmt::format("tonight {}", degree_sign(unit)), .align = kRight},
               {.heading = "odds", .align = kRight},
               {.heading = "note", .wraps = true}});
  for (const PlaceSummary& place : answer.places) {
    const PlaceTonight& tonight = *place.tonight;
    const bool likely = tonight.odds && *tonight.odds >= tonight.place->act_at;
    const auto low =
        tonight.expected ? std::optional(tonight.expected->low) : std::nullopt;
    table.add_row(
        {{tonight.place->name},
         {place.air ? number(Celsius{from_milli(place.air->value)}, unit) : "-"},
         {low ? number(*low, unit) : "-"},
         {odds_text(context, tonight), likely ? Style::kCold : Style::kPlain},
         {note_text(context, place)}});
  }
  return table.text(context.around.screen);
}

// What there is to say of the lows; a line, or none.
std::string outlook_line(const Context& context, const Answer& answer) {
  if (has_outlook(answer)) return "Tonight's lows are a forecast, and no promise.";
  const auto& first = answer.tonight.first_outlook;
  if (!first || *first <= context.now) return {};
  return fmt::format("The first outlook for tonight comes at {}.",
                     when_text(*first, context.now, context.zone));
}

std::string verbs_line() {
  std::vector<std::string_view> names;
  for (const Verb& verb : all_verbs())
    names.push_back(verb.name);
  return fmt::format("Verbs: {}. `rimeward --help` says what each is for.",
                     fmt::join(names, ", "));
}

std::string text_of_answer(const Context& context, const Answer& answer) {
  const Screen& screen = context.around.screen;
  std::string text =
      paragraphs(garden_heading(context.garden, context.zone, context.now), 0, screen);
  text += "\n" + places_table(context, answer);
  text += paragraphs(outlook_line(context, answer), 0, screen);
  text += answer.pending.empty()
              ? "\nNothing is pending.\n"
              : "\nPending:\n" +
                    pending_lines(answer.pending, context.zone, context.now, screen);
  Table trials({{.heading = ""}, {.heading = "", .wraps = true}});
  for (const Trial& trial : answer.trials)
    trials.add_row({{"  " + trial.command}, {trial.why}});
  return text + "\nTo try:\n" + trials.text(screen) + "\n" +
         paragraphs(verbs_line(), 0, screen);
}

// --- JSON

Json json_of_place(const Context& context, const PlaceSummary& place) {
  const PlaceTonight& tonight = *place.tonight;
  std::optional<Celsius> air;
  std::optional<Instant> heard_at;
  if (place.air) {
    air = Celsius{from_milli(place.air->value)};
    heard_at = place.air->time;
  }
  const auto low = tonight.expected ? std::optional(tonight.expected->low) : std::nullopt;
  return {{"place", tonight.place->id},
          {"name", tonight.place->name},
          {"temperature_celsius", json_of(air)},
          {"heard_at", json_of(heard_at)},
          {"heard_local", json_local(heard_at, context.zone)},
          {"cover_layers", tonight.cover_layers},
          {"low_tonight_celsius", json_of(low)},
          {"keep_above_celsius", json_of(tonight.place->keep_above)},
          {"odds_below_keep_above", json_of(tonight.odds)}};
}

std::string json_of_answer(const Context& context, const Answer& answer) {
  Json json = json_heading(context);
  json["places"] = Json::array();
  for (const PlaceSummary& place : answer.places)
    json["places"].push_back(json_of_place(context, place));
  json["pending"] = json_of(answer.pending, context);
  json["to_try"] = Json::array();
  for (const Trial& trial : answer.trials)
    json["to_try"].push_back({{"command", trial.command}, {"why", trial.why}});
  return json_text(json);
}

}  // namespace

Reply summary(const Context& context) {
  const Answer answer = answer_summary(context);
  return said(context.around.format == Format::kJson ? json_of_answer(context, answer)
                                                     : text_of_answer(context, answer));
}

std::string summary_without_garden(const Surroundings& around) {
  const Screen& screen = around.screen;
  std::error_code ignored;
  std::string text;
  if (!std::filesystem::exists(around.config_file, ignored)) {
    text = paragraphs(
        "No garden is set up yet. `rimeward first-time` asks for its places and sensors, "
        "and writes the settings.\n\n",
        0, screen);
  }
  return text + verb_list(screen);
}

}  // namespace rimeward
