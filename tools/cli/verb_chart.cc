// `rimeward chart`: a channel of some places over some hours, days or years, as a plot on
// the terminal or a picture, with nights, covers and notices.

#include <algorithm>
#include <cstdlib>
#include <string>
#include <utility>
#include <vector>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "daemon/base/text.h"
#include "sensors/escape.h"
#include "sensors/iso_time.h"
#include "tools/cli/chart/chart_answer.h"
#include "tools/cli/chart/chart_text.h"
#include "tools/cli/chart/draw_run.h"
#include "tools/cli/json_text.h"
#include "tools/cli/verb.h"
#include "tools/cli/words.h"

namespace rimeward {
namespace {

using Json = nlohmann::ordered_json;

// The pictures that can be asked for, each with its option.
constexpr std::pair<std::string_view, std::string_view> kPictures[]{{"--svg", "svg"},
                                                                    {"--png", "png"}};

constexpr std::string_view kChannels =
    "temperature humidity soil_temperature soil_moisture light pressure battery "
    "battery_voltage signal";

std::string csv_of(const ChartAnswer& answer) {
  std::string text = "time,place,channel,low,high\n";
  for (std::size_t i = 0; i < answer.curves.size(); ++i) {
    for (const auto& piece : answer.curves[i].pieces) {
      for (const Chart::Point& point : piece) {
        text += fmt::format("{},{},{},{:.3f},{:.3f}\n", format_utc(point.at),
                            answer.question.places[i]->id,
                            traits(answer.question.channel).name, point.low, point.high);
      }
    }
  }
  return text;
}

// To a thousandth, as stored.
Json json_value(double value) {
  return from_milli(to_milli(value));
}

Json json_span(const Chart::Span& span, const Zone& zone) {
  return {{"from", json_of(std::optional(span.from))},
          {"from_local", json_local(span.from, zone)},
          {"to", json_of(std::optional(span.to))},
          {"to_local", json_local(span.to, zone)}};
}

Json json_spans(const std::vector<Chart::Span>& spans, const Zone& zone) {
  Json list = Json::array();
  for (const Chart::Span& span : spans)
    list.push_back(json_span(span, zone));
  return list;
}

Json json_extreme(const std::optional<ChartExtreme>& extreme, const Zone& zone) {
  if (!extreme) return nullptr;
  return {{"value", json_value(extreme->value)},
          {"at", json_of(std::optional(extreme->at))},
          {"at_local", json_local(extreme->at, zone)}};
}

Json json_place(const ChartAnswer& answer, std::size_t number, const Zone& zone) {
  const Chart::Line& line = answer.chart.lines[number];
  const ChartCurve& curve = answer.curves[number];
  Json covers = Json::array();
  for (const Chart::Cover& cover : line.covers) {
    Json each = json_span(cover.span, zone);
    each["layers"] = cover.layers;
    covers.push_back(std::move(each));
  }
  Json pieces = Json::array();
  for (const auto& piece : curve.pieces) {
    Json points = Json::array();
    for (const Chart::Point& point : piece) {
      points.push_back({{"at", json_of(std::optional(point.at))},
                        {"low", json_value(point.low)},
                        {"high", json_value(point.high)}});
    }
    pieces.push_back(std::move(points));
  }
  return {{"place", answer.question.places[number]->id},
          {"name", line.place},
          {"low", json_extreme(curve.low, zone)},
          {"high", json_extreme(curve.high, zone)},
          {"keep_above", line.keep_above ? json_value(*line.keep_above) : Json()},
          {"missing", json_spans(curve.gaps, zone)},
          {"covers", std::move(covers)},
          {"pieces", std::move(pieces)}};
}

std::string_view name_of(ChartStep step) {
  switch (step) {
    case ChartStep::kReadings:
      return "readings";
    case ChartStep::kHours:
      return "hours";
    case ChartStep::kDays:
      return "days";
  }
  std::abort();
}

std::string json_of_answer(const Context& context, const ChartAnswer& answer) {
  Json json = json_heading(context);
  json["channel"] = traits(answer.question.channel).name;
  json["unit"] = answer.chart.unit;
  json.update(json_span(answer.chart.span, context.zone));
  json["points_are"] = name_of(answer.step);
  json["places"] = Json::array();
  for (std::size_t i = 0; i < answer.curves.size(); ++i)
    json["places"].push_back(json_place(answer, i, context.zone));
  json["nights"] = json_spans(answer.chart.nights, context.zone);
  json["notices"] = json_of(answer.notices, context);
  return json_text(json);
}

// What the places asked about, or all of the garden, do have.
std::vector<std::string> channels_of(const Context& context,
                                     const ChartQuestion& question) {
  const std::vector<SeriesRow> all = context.store.all_series();
  std::vector<std::string> names;
  for (const ChannelTraits& channel : all_channels()) {
    const bool has = std::ranges::any_of(all, [&](const SeriesRow& row) {
      const bool asked = question.places.empty() ||
                         std::ranges::find(question.places, row.place, &Place::id) !=
                             question.places.end();
      return asked && row.channel == channel.channel &&
             channel.channel != question.channel && is_measured(channel.channel);
    });
    if (has) names.push_back(chart_words(channel.channel));
  }
  return names;
}

// "the north frame and the yard", "the garden".
std::string where_words(const ChartQuestion& question) {
  std::string text;
  const std::size_t count = question.places.size();
  for (std::size_t i = 0; i < count; ++i) {
    if (i > 0) text += i + 1 == count ? " or " : ", ";
    text += in_sentence(question.places[i]->name);
  }
  return text.empty() ? "the garden" : text;
}

std::string nothing_words(const Context& context, const ChartAnswer& answer) {
  const Zone& zone = context.zone;
  const auto time = [&](Instant at) {
    return day_text(zone.local_date(at)) + " " + zone.time_text(at);
  };
  std::string text = fmt::format(
      "No readings of {} in {} from {} to {}. `rimeward sensors` says when each sensor "
      "was "
      "last heard.",
      chart_words(answer.question.channel), where_words(answer.question),
      time(answer.chart.span.from), time(answer.chart.span.to));
  const std::vector<std::string> others = channels_of(context, answer.question);
  if (!others.empty()) {
    text += fmt::format(" Known from there: {}.", fmt::join(others, ", "));
  }
  return text;
}

Reply draw(const Context& context, const Arguments& arguments,
           const ChartAnswer& answer) {
  if (context.around.format != Format::kText) {
    return misused("a picture with --json or --csv: ask for one after the other");
  }
  if (!has_readings(answer)) return could_not(nothing_words(context, answer));
  Reply reply;
  for (const auto& [option, kind] : kPictures) {
    const auto file = arguments.text(option);
    if (!file) continue;
    const auto trouble =
        draw_picture(draw_program(), kind, std::string(*file), answer.chart);
    if (trouble) {
      reply.status = 1;
      reply.trouble = *trouble;
      return reply;
    }
    reply.text += fmt::format("{} written\n", printable(*file, context.around.screen));
  }
  return reply;
}

std::string text_of(const Context& context, const ChartAnswer& answer) {
  const Screen& screen = context.around.screen;
  return has_readings(answer) ? chart_text(answer, context.zone, screen)
                              : paragraphs(nothing_words(context, answer), 0, screen);
}

constexpr Parameter kParameters[]{
    {.name = "PLACE",
     .value = "",
     .help = "one place or more, by id or name (default: all that have the channel)",
     .offers = Offers::kPlaces,
     .takes_rest = true},
    {.name = "--channel",
     .value = "C",
     .help = "what to show (default: the air's temperature)",
     .offers = Offers::kWords,
     .words = kChannels},
    {.name = "--days",
     .value = "N",
     .help = "how many days (default: the last 2, up to now)"},
    {.name = "--from", .value = "D", .help = "the first date", .offers = Offers::kDays},
    {.name = "--to",
     .value = "D",
     .help = "the last date (default: today)",
     .offers = Offers::kDays},
    {.name = "--svg",
     .value = "FILE",
     .help = "write a picture of it instead, sharp at any size",
     .offers = Offers::kFiles},
    {.name = "--png",
     .value = "FILE",
     .help = "the same for where SVG cannot be shown",
     .offers = Offers::kFiles},
};

Reply run(const Context& context, const Arguments& arguments) {
  const auto question = chart_question(context, arguments);
  if (!question) return misused(question.error().message);
  const bool as_text = context.around.format == Format::kText;
  const ChartAnswer answer = answer_chart(
      context, *question, as_text ? context.garden.units : TemperatureUnit::kCelsius);
  if (arguments.given("--svg") || arguments.given("--png")) {
    return draw(context, arguments, answer);
  }
  switch (context.around.format) {
    case Format::kText:
      return said(text_of(context, answer));
    case Format::kJson:
      return said(json_of_answer(context, answer));
    case Format::kCsv:
      return said(csv_of(answer));
  }
  std::abort();
}

}  // namespace

VerbDetails describe_chart() {
  return {
      .teaching =
          "The air's temperature, or another channel, as a curve: how a night went, what "
          "a cover did for it, how two places differ.\n\n"
          "Shaded is the night, from sunset to sunrise; the row `night` has the times. "
          "The line `keep above` is the temperature below which the plants must not go, "
          "the row `cover` shows when fleece was on and how many layers, the row "
          "`notice` the number of each notice under the time when it was first told. "
          "Where no readings came the curve has a hole, and the note says from when to "
          "when. Of several places each has a letter, on its curve and in the table.\n\n"
          "Up to three days the curve shows readings, up to sixty the lowest and highest "
          "of each hour, beyond that the low and high of each day. Dates run from "
          "midnight to midnight.\n\n"
          "  rimeward chart north-frame\n"
          "  rimeward chart glasshouse north-frame yard --from yesterday\n"
          "  rimeward chart --channel humidity --days 9\n"
          "  rimeward chart pea-bed --from 2026-04-01 --to 2026-04-30 --svg april.svg\n\n"
          "The first ends with a line such as this:\n\n"
          "  Low -1.7 °C at Sat 11 Apr 06:00, high 15.8 °C at 15:00. Keep above 1.0 °C.",
      .parameters = kParameters,
      .tabular = true,
      .answer = run};
}

}  // namespace rimeward
