// `rimeward tonight`: the low that is coming, and what to do about it.

#include <algorithm>
#include <chrono>
#include <string>
#include <vector>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "daemon/base/text.h"
#include "daemon/climate/moment.h"
#include "daemon/notice/words.h"
#include "tools/cli/json_text.h"
#include "tools/cli/record.h"
#include "tools/cli/table.h"
#include "tools/cli/tonight.h"
#include "tools/cli/words.h"

namespace rimeward {
namespace {

constexpr std::string_view kNoPromise =
    "A forecast is no promise: cloud, wind or other air may come.";
// Older air than this gives no outlook (daemon/climate/features.h).
constexpr std::chrono::minutes kFresh{78};

std::string heading(const Context& context, const TonightAnswer& answer) {
  std::string text = fmt::format(
      "{}\nThe night to {}", garden_heading(context.garden, context.zone, context.now),
      day_text(std::chrono::year_month_day{answer.night}));
  if (answer.sunset && answer.sunrise) {
    text += fmt::format(": sunset {}, sunrise {}", context.zone.time_text(*answer.sunset),
                        context.zone.time_text(*answer.sunrise));
  }
  return text + "\n\n";
}

std::string odds_text(const Context& context, const PlaceTonight& tonight) {
  if (!tonight.odds || !tonight.place->keep_above) return "-";
  return fmt::format("{} below {}", text_of(*tonight.odds),
                     number(*tonight.place->keep_above, context.garden.units));
}

// The hour of the low: when it is expected, or was read.
std::string lowest_text(const Context& context, const PlaceTonight& tonight,
                        const Expected& expected) {
  if (tonight.lowest && tonight.lowest_at && *tonight.lowest <= expected.low) {
    return "at " + context.zone.time_text(*tonight.lowest_at);
  }
  return "near " + context.zone.time_text(rounded_down(expected.low_at));
}

Table outlook_table(const Context& context, const TonightAnswer& answer) {
  using enum Column::Align;
  const TemperatureUnit unit = context.garden.units;
  Table table({{.heading = "place", .wraps = true},
               {.heading = fmt::format("low {}", degree_sign(unit)), .align = kRight},
               {.heading = "80 % range", .align = kRight},
               {.heading = "odds", .align = kRight},
               {.heading = "lowest"},
               {.heading = "cover"},
               {.heading = "made"}});
  for (const PlaceTonight& tonight : answer.places) {
    if (!tonight.expected) {
      table.add_row({{tonight.place->name},
                     {"-"},
                     {"-"},
                     {"-"},
                     {"-"},
                     {cover_text(tonight.cover_layers)},
                     {"-"}});
      continue;
    }
    const Expected& expected = *tonight.expected;
    const bool likely = tonight.odds && *tonight.odds >= tonight.place->act_at;
    table.add_row({{tonight.place->name},
                   {number(expected.low, unit), likely ? Style::kCold : Style::kPlain},
                   {fmt::format("{} to {}", number(expected.low10, unit),
                                number(expected.low90, unit))},
                   {odds_text(context, tonight), likely ? Style::kCold : Style::kPlain},
                   {lowest_text(context, tonight, expected)},
                   {cover_text(tonight.cover_layers)},
                   {context.zone.time_text(expected.outlook.issued_at)}});
  }
  return table;
}

std::string by_layers_heading(int layers) {
  return layers == 0 ? "none" : layers_text(layers);
}

// "-0.6 (84 %)".
std::string under_layers_text(const UnderLayers& one, TemperatureUnit unit) {
  return fmt::format("{} ({})", number(one.low, unit), text_of(one.odds));
}

Table layers_table(const Context& context, const TonightAnswer& answer,
                   std::size_t most) {
  const TemperatureUnit unit = context.garden.units;
  std::vector<Column> columns{
      {.heading = fmt::format("low {} under", degree_sign(unit)), .wraps = true}};
  for (std::size_t i = 0; i < most; ++i) {
    columns.push_back({.heading = by_layers_heading(static_cast<int>(i)),
                       .align = Column::Align::kRight});
  }
  Table table(std::move(columns));
  for (const PlaceTonight& tonight : answer.places) {
    if (tonight.by_layers.empty()) continue;
    std::vector<Cell> cells{{tonight.place->name}};
    for (const UnderLayers& one : tonight.by_layers)
      cells.push_back({under_layers_text(one, unit)});
    cells.resize(most + 1, Cell{"-"});
    table.add_row(std::move(cells));
  }
  return table;
}

// Where what fleece adds is known from: "Learned here: north frame, one layer, by 11
// nights. The rest is by published figures ...".
std::string layers_source(const TonightAnswer& answer) {
  std::vector<std::string> learned;
  bool by_published = false;
  for (const PlaceTonight& tonight : answer.places) {
    for (const UnderLayers& one : tonight.by_layers) {
      if (one.layers == 0) continue;
      by_published |= one.nights == 0;
      if (one.nights == 0) continue;
      learned.push_back(fmt::format("{}, {}, by {} {}", tonight.place->name,
                                    layers_text(one.layers), one.nights,
                                    one.nights == 1 ? "night" : "nights"));
    }
  }
  std::string text;
  if (!learned.empty()) {
    text = fmt::format("What fleece adds, learned here: {}. ", fmt::join(learned, "; "));
  }
  if (!by_published) return text;
  return text + fmt::format(
                    "{} by published figures until nights under it have shown more; "
                    "write down what is on by `rimeward cover`.",
                    learned.empty() ? "What fleece adds is" : "The rest is");
}

// What fleece would make of the night, where there is any.
std::string layers_report(const Context& context, const TonightAnswer& answer) {
  std::size_t most = 0;
  for (const PlaceTonight& tonight : answer.places)
    most = std::max(most, tonight.by_layers.size());
  if (most == 0) return "";
  const Screen& screen = context.around.screen;
  return "\n" + layers_table(context, answer, most).text(screen) +
         paragraphs(layers_source(answer), 0, screen);
}

// Why there is no outlook, or when the first one comes.
std::string no_outlook_text(const Context& context, const TonightAnswer& answer,
                            const PlaceTonight& tonight) {
  if (!answer.first_outlook) return "no outlook: the sun does not set";
  if (context.now < *answer.first_outlook) {
    return fmt::format("first outlook at {}",
                       when_text(*answer.first_outlook, context.now, context.zone));
  }
  if (!tonight.heard_at) return "no outlook: its air was never heard";
  if (context.now - *tonight.heard_at > kFresh) {
    return fmt::format("no outlook: last heard at {}",
                       when_text(*tonight.heard_at, context.now, context.zone));
  }
  return "no outlook yet";
}

// Where no notice asks for anything.
std::string quiet_advice(const PlaceTonight& tonight) {
  if (!tonight.odds || *tonight.odds < tonight.place->act_at) return "nothing to do";
  return tonight.cover_layers > 0
             ? fmt::format("covered: {} on", cover_text(tonight.cover_layers))
             : "at risk, though no notice is open";
}

// What the night has in store besides, each with its "; ".
std::string remarks(const Context& context, const PlaceTonight& tonight) {
  std::string text;
  const TemperatureUnit unit = context.garden.units;
  if (tonight.place->keep_above && tonight.falls_below_at) {
    text +=
        fmt::format("; below {} from about {}", text_of(*tonight.place->keep_above, unit),
                    context.zone.time_text(rounded_down(*tonight.falls_below_at)));
  }
  if (tonight.lowest && tonight.lowest_at && tonight.place->keep_above &&
      *tonight.lowest <= *tonight.place->keep_above) {
    text += fmt::format("; down to {} at {}", text_of(*tonight.lowest, unit),
                        context.zone.time_text(*tonight.lowest_at));
  }
  if (!tonight.expected) return text;
  const OutlookRow& row = tonight.expected->outlook;
  if (!row.rests_on.empty()) {
    text += fmt::format(
        "; its sensor is silent: by {} and how the two usually differ, less sure",
        in_sentence(place_name(context.garden, row.rests_on)));
  } else if (!row.humidity_known) {
    text += "; less sure, without humidity";
  }
  if (row.opinion) {
    text += fmt::format("; the {} forecast for the region is in it",
                        text_of(*row.opinion, unit));
  }
  return text;
}

std::string advice(const Context& context, const TonightAnswer& answer,
                   const PlaceTonight& tonight) {
  std::string text;
  for (const NoticeRow& notice : tonight.notices) {
    if (!text.empty()) text += "; ";
    text += notice.title;
    if (notice.deadline) {
      text += ", " + due_text(*notice.deadline, context.now, context.zone);
    }
    text += fmt::format(" (notice {})", notice.id);
  }
  if (text.empty()) {
    text = tonight.expected ? quiet_advice(tonight)
                            : no_outlook_text(context, answer, tonight);
  }
  return text + remarks(context, tonight);
}

Table record_table(const Context& context, const TonightAnswer& answer) {
  using enum Column::Align;
  const TemperatureUnit unit = context.garden.units;
  Table table(
      {{.heading = "place", .wraps = true},
       {.heading = "nights", .align = kRight},
       {.heading = fmt::format("mean error {}", degree_sign(unit)), .align = kRight},
       {.heading = "in range", .align = kRight},
       {.heading = "caught", .align = kRight},
       {.heading = "missed", .align = kRight},
       {.heading = "false calls", .align = kRight}});
  for (const PlaceTonight& tonight : answer.places) {
    const OutlookScores& scores = tonight.record;
    if (scores.nights < kFewestNights || !scores.mean_absolute_error ||
        !scores.share_in_range) {
      continue;
    }
    const auto count = [&tonight](std::int64_t nights) {
      return tonight.place->keep_above ? fmt::format("{}", nights) : std::string("-");
    };
    const std::string error = signed_number(*scores.mean_absolute_error, unit);
    table.add_row({{tonight.place->name},
                   {fmt::format("{}", scores.nights)},
                   {error.substr(1)},
                   {fmt::format("{:.0f} %", *scores.share_in_range * 100)},
                   {count(scores.calls.caught)},
                   {count(scores.calls.missed)},
                   {count(scores.calls.false_calls)}});
  }
  return table;
}

std::string record_text(const Context& context, const TonightAnswer& answer) {
  const Screen& screen = context.around.screen;
  std::vector<std::string> few;
  for (const PlaceTonight& tonight : answer.places) {
    if (tonight.record.nights >= kFewestNights) continue;
    few.push_back(fmt::format("{} ({})", tonight.place->name, tonight.record.nights));
  }
  std::string text = paragraphs(
      fmt::format(
          "How the outlooks of an hour before sunset did, last {} nights. Caught, "
          "missed and falsely called: nights down to keep-above.",
          kRecordSpan.count()),
      0, screen);
  if (few.size() < answer.places.size()) {
    text += record_table(context, answer).text(screen);
  }
  if (few.empty()) return text;
  return text + paragraphs(fmt::format("Too few nights yet: {}.", fmt::join(few, ", ")),
                           0, screen);
}

std::string text_of_answer(const Context& context, const TonightAnswer& answer) {
  const Screen& screen = context.around.screen;
  std::string text = paragraphs(heading(context, answer), 0, screen);
  text += outlook_table(context, answer).text(screen);
  Table to_do({{.heading = "to do"}, {.heading = "", .wraps = true}});
  for (const PlaceTonight& tonight : answer.places) {
    to_do.add_row({{tonight.place->name},
                   {advice(context, answer, tonight),
                    tonight.notices.empty() ? Style::kPlain : Style::kUrgent}});
  }
  text += "\n" + to_do.text(screen);
  text += layers_report(context, answer);
  text += "\n" + record_text(context, answer);
  return text + "\n" + paragraphs(kNoPromise, 0, screen);
}

nlohmann::ordered_json json_of_record(const PlaceTonight& tonight) {
  const OutlookScores& scores = tonight.record;
  nlohmann::ordered_json json{{"nights", scores.nights},
                              {"mean_error_celsius", json_of(scores.mean_absolute_error)},
                              {"share_in_range", nullptr},
                              {"caught", nullptr},
                              {"missed", nullptr},
                              {"false_calls", nullptr}};
  if (scores.share_in_range) json["share_in_range"] = *scores.share_in_range;
  if (tonight.place->keep_above) {
    json["caught"] = scores.calls.caught;
    json["missed"] = scores.calls.missed;
    json["false_calls"] = scores.calls.false_calls;
  }
  return json;
}

nlohmann::ordered_json json_of_layers(const PlaceTonight& tonight) {
  auto json = nlohmann::ordered_json::array();
  for (const UnderLayers& one : tonight.by_layers) {
    json.push_back({{"layers", one.layers},
                    {"low_celsius", json_of(std::optional(one.low))},
                    {"odds_below_keep_above", json_of(std::optional(one.odds))},
                    {"nights_learned_from", one.nights}});
  }
  return json;
}

nlohmann::ordered_json json_of_course(const PlaceTonight& tonight) {
  auto json = nlohmann::ordered_json::array();
  if (!tonight.expected) return json;
  for (const CoursePoint& point : tonight.expected->course) {
    json.push_back({{"at", json_of(std::optional(point.at))},
                    {"air_celsius", json_of(std::optional(point.air))}});
  }
  return json;
}

nlohmann::ordered_json json_of_place(const Context& context, const TonightAnswer& answer,
                                     const PlaceTonight& tonight) {
  const Zone& zone = context.zone;
  nlohmann::ordered_json moment;
  nlohmann::ordered_json humidity_known;
  std::optional<Instant> issued_at;
  std::optional<Celsius> low;
  std::optional<Celsius> low10;
  std::optional<Celsius> low90;
  std::optional<Instant> low_at;
  std::optional<Celsius> opinion;
  nlohmann::ordered_json rests_on;
  if (const auto& expected = tonight.expected) {
    const OutlookRow& row = expected->outlook;
    if (row.moment >= 0 && static_cast<std::size_t>(row.moment) < kMoments.size()) {
      moment = name_of(static_cast<Moment>(row.moment));
    }
    humidity_known = row.humidity_known;
    issued_at = row.issued_at;
    low = expected->low;
    low10 = expected->low10;
    low90 = expected->low90;
    low_at = expected->low_at;
    opinion = row.opinion;
    if (!row.rests_on.empty()) rests_on = row.rests_on;
  }
  return {{"place", tonight.place->id},
          {"name", tonight.place->name},
          {"keep_above_celsius", json_of(tonight.place->keep_above)},
          {"act_at_odds", json_of(std::optional(tonight.place->act_at))},
          {"issue", moment},
          {"issued_at", json_of(issued_at)},
          {"issued_local", json_local(issued_at, zone)},
          {"humidity_known", humidity_known},
          {"low_celsius", json_of(low)},
          {"low10_celsius", json_of(low10)},
          {"low90_celsius", json_of(low90)},
          {"odds_below_keep_above", json_of(tonight.odds)},
          {"low_at", json_of(low_at)},
          {"low_local", json_local(low_at, zone)},
          {"under_layers", json_of_layers(tonight)},
          {"course", json_of_course(tonight)},
          {"rests_on", rests_on},
          {"opinion_celsius", json_of(opinion)},
          {"lowest_since_sunset_celsius", json_of(tonight.lowest)},
          {"lowest_since_sunset_at", json_of(tonight.lowest_at)},
          {"falls_below_at", json_of(tonight.falls_below_at)},
          {"falls_below_local", json_local(tonight.falls_below_at, zone)},
          {"cover_layers", tonight.cover_layers},
          {"advice", advice(context, answer, tonight)},
          {"notices", json_of(tonight.notices, context)},
          {"record", json_of_record(tonight)}};
}

std::string json_of_answer(const Context& context, const TonightAnswer& answer) {
  nlohmann::ordered_json json = json_heading(context);
  json["night"] = date_text(answer.night);
  json["first_outlook_at"] = json_of(answer.first_outlook);
  json["first_outlook_local"] = json_local(answer.first_outlook, context.zone);
  json["sunset_at"] = json_of(answer.sunset);
  json["sunset_local"] = json_local(answer.sunset, context.zone);
  json["sunrise_at"] = json_of(answer.sunrise);
  json["sunrise_local"] = json_local(answer.sunrise, context.zone);
  json["places"] = nlohmann::ordered_json::array();
  for (const PlaceTonight& tonight : answer.places) {
    json["places"].push_back(json_of_place(context, answer, tonight));
  }
  json["record_days"] = kRecordSpan.count();
  json["caution"] = kNoPromise;
  return json_text(json);
}

Reply run(const Context& context, const Arguments&) {
  const TonightAnswer answer = answer_tonight(context);
  return said(context.around.format == Format::kJson ? json_of_answer(context, answer)
                                                     : text_of_answer(context, answer));
}

}  // namespace

VerbDetails describe_tonight() {
  return {
      .teaching =
          "The low of the night under way or to come, place by place, and what to do "
          "about it.\n\n"
          "`80 % range` holds the lows of eight nights in ten. `odds` are those of "
          "going below what the place must be kept above. `made` is when the outlook "
          "was made: four are, from three hours after noon until deep in the night, "
          "each better than the one before. Below stands how good they have been "
          "here. The low is the place's under the cover that is on now; what it would be "
          "under none and under each layer that there is stands beneath, with the "
          "odds.\n\n"
          "  rimeward tonight\n"
          "  place        low °C   80 % range            odds  lowest      cover  made\n"
          "  North frame    -0.6  -2.4 to 1.1  82 % below 1.0  near 06:31  -      "
          "16:36\n\n"
          "The north frame is expected to go down to -0.6 °C about sunrise, four to one "
          "below the 1.0 °C that its lettuces need: fleece it.",
      .parameters = {},
      .answer = run};
}

}  // namespace rimeward
