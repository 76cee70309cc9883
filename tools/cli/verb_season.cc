// `rimeward season`: frosts, extremes, chill and warmth of each place, year beside year.

#include <charconv>
#include <cmath>
#include <cstdlib>
#include <optional>
#include <string>
#include <vector>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "daemon/base/text.h"
#include "sensors/escape.h"
#include "tools/cli/calendar_words.h"
#include "tools/cli/json_text.h"
#include "tools/cli/places_asked.h"
#include "tools/cli/season_answer.h"
#include "tools/cli/season_text.h"
#include "tools/cli/verb.h"
#include "tools/cli/words.h"

namespace rimeward {
namespace {

using Json = nlohmann::ordered_json;
using std::chrono::year;

constexpr std::string_view kWhen = "WHEN";
constexpr std::string_view kYear = "--year";

std::optional<year> year_from_text(std::string_view text) {
  int number = 0;
  const auto read = std::from_chars(text.data(), text.data() + text.size(), number);
  if (read.ec != std::errc{} || read.ptr != text.data() + text.size() ||
      text.size() != 4 || number < 1970) {
    return std::nullopt;
  }
  return year{number};
}

// "2025", "last year", or a season's name as it is shown: in the south "2025/26".
std::optional<year> season_from_words(std::string_view text, const Context& context) {
  if (const auto alone = year_from_text(text)) return alone;
  const bool southern = is_southern(context.garden.position.latitude);
  const year current = season_year(context.zone.local_date(context.now), southern);
  if (is_same_words(text, "this year") || is_same_words(text, "this season")) {
    return current;
  }
  if (is_same_words(text, "last year") || is_same_words(text, "last season")) {
    return current - std::chrono::years{1};
  }
  const auto begins = year_from_text(text.substr(0, 4));
  return begins && season_name(*begins, southern) == text ? begins : std::nullopt;
}

Result<std::optional<year>> year_asked(const Context& context,
                                       const Arguments& arguments) {
  if (const auto text = arguments.text(kYear)) {
    if (arguments.given(kWhen)) {
      return refuse(fmt::format("\"{}\" with --year: leave one of them out",
                                escaped(*arguments.text(kWhen))));
    }
    const auto asked = year_from_text(*text);
    if (asked) return asked;
    return refuse(
        fmt::format("--year: expected a year such as 2025, got \"{}\"", escaped(*text)));
  }
  const auto text = arguments.text(kWhen);
  if (!text) return std::nullopt;
  const auto asked = season_from_words(*text, context);
  if (asked) return asked;
  constexpr std::string_view words[]{"this year", "last year", "this season",
                                     "last season"};
  return refuse(
      fmt::format("season: expected a year such as 2025, \"this year\" or \"last year\", "
                  "got \"{}\"{}",
                  escaped(*text), did_you_mean(*text, words)));
}

// --- CSV

// What is summed over hours: empty where none is known.
template <class Number>
std::string over_hours(const PlaceSeason& row, fmt::format_string<Number&> how,
                       Number sum) {
  return row.has_hours ? fmt::format(how, sum) : std::string();
}

std::string csv_of_answer(const SeasonAnswer& answer) {
  std::string text =
      "season,place,under_way,frost_nights,last_frost_of_spring,last_frost_sure,"
      "first_frost_of_autumn,first_frost_sure,coldest_night,low,warmest_day,high,"
      "frost_hours,chill_hours,chill_hours_missing,degree_days_above_5,"
      "degree_days_above_10,nights_in_part,nights_missing,hours_missing\n";
  const auto frost = [](const std::optional<FrostDate>& one) {
    return one ? fmt::format("{},{}", date_text(one->night), one->is_sure ? 1 : 0)
               : std::string(",");
  };
  const auto dated = [](const std::optional<DatedAir>& one) {
    return one ? fmt::format("{},{:.3f}", date_text(one->date), one->air.degrees)
               : std::string(",");
  };
  const auto hours = [](const std::optional<Chill>& chill) {
    return chill ? fmt::format("{},{}", chill->chill_hours, chill->missing)
                 : std::string(",");
  };
  for (const PlaceSeason& row : answer.rows) {
    text += fmt::format("{},{},{},{},{},{},{},{},{},{},{},{},{},{},{}\n",
                        season_name(row.year, answer.is_southern), row.place->id,
                        row.is_under_way ? 1 : 0, row.sums.frost_nights,
                        frost(row.last_of_spring), frost(row.first_of_autumn),
                        dated(row.coldest), dated(row.warmest),
                        over_hours(row, "{}", row.sums.frost_hours), hours(row.chill),
                        over_hours(row, "{:.3f}", row.sums.hardy.degree_days),
                        over_hours(row, "{:.3f}", row.sums.tender.degree_days),
                        row.nights_in_part, row.nights_missing, row.hours_missing);
  }
  return text;
}

// --- JSON

Json json_of(const SeasonSums& sums, bool has_hours) {
  const auto thousandths = [has_hours](DegreeDays warmth) {
    return has_hours ? Json(std::round(warmth.degree_days * 1000) / 1000) : Json();
  };
  return {{"frost_nights", sums.frost_nights},
          {"frost_hours", has_hours ? Json(sums.frost_hours) : Json()},
          {"degree_days_above_5_celsius", thousandths(sums.hardy)},
          {"degree_days_above_10_celsius", thousandths(sums.tender)}};
}

Json json_of(const std::optional<FrostDate>& frost) {
  if (!frost) return nullptr;
  return {{"date", date_text(frost->night)}, {"is_sure", frost->is_sure}};
}

Json json_of(const std::optional<DatedAir>& dated) {
  if (!dated) return nullptr;
  return {{"date", date_text(dated->date)},
          {"temperature_celsius", json_of(std::optional(dated->air))}};
}

Json json_of(const std::optional<Chill>& chill) {
  if (!chill) return nullptr;
  return {{"hours", chill->chill_hours}, {"hours_missing", chill->missing}};
}

Json json_of(const PlaceSeason& row, const SeasonAnswer& answer) {
  const Season season = season_of(row.year, answer.is_southern);
  Json json = {{"place", row.place->id},
               {"season", season_name(row.year, answer.is_southern)},
               {"begins", date_text(season.begins)},
               {"ends", date_text(season.ends - std::chrono::days{1})},
               {"is_under_way", row.is_under_way}};
  json.update(json_of(row.sums, row.has_hours));
  json["by_today"] = row.by_today ? json_of(*row.by_today, row.has_hours) : Json();
  json["last_frost_of_spring"] = json_of(row.last_of_spring);
  json["first_frost_of_autumn"] = json_of(row.first_of_autumn);
  json["coldest_night"] = json_of(row.coldest);
  json["warmest_day"] = json_of(row.warmest);
  json["chill"] = json_of(row.chill);
  json["coming_chill"] = json_of(row.coming_chill);
  json["nights_in_part"] = row.nights_in_part;
  json["nights_missing"] = row.nights_missing;
  json["hours_missing"] = row.hours_missing;
  return json;
}

std::string json_of_answer(const Context& context, const SeasonAnswer& answer) {
  Json json = json_heading(context);
  json["seasons"] = Json::array();
  for (const PlaceSeason& row : answer.rows)
    json["seasons"].push_back(json_of(row, answer));
  return json_text(json);
}

constexpr Parameter kParameters[]{
    {.name = kWhen,
     .value = "",
     .help =
         "only one season: 2025, \"last year\"; in the south, by the year it begins in",
     .offers = Offers::kNothing,
     .takes_rest = true},
    {kYear, "YYYY", "the same, by its number"},
    {.name = "--place",
     .value = "P",
     .help = "only this place",
     .offers = Offers::kPlaces},
};

Reply run(const Context& context, const Arguments& arguments) {
  const auto only = year_asked(context, arguments);
  if (!only) return misused(only.error().message);
  const auto places = places_asked(context, arguments);
  if (!places) return misused(places.error().message);
  const SeasonAnswer answer = answer_season(context, *places, *only);
  switch (context.around.format) {
    case Format::kText:
      return said(season_text(context, answer, *places, *only));
    case Format::kJson:
      return said(json_of_answer(context, answer));
    case Format::kCsv:
      return said(csv_of_answer(answer));
  }
  std::abort();
}

}  // namespace

VerbDetails describe_season() {
  return {
      .teaching =
          "Frosts, the coldest and the warmest, chill and warmth of each place, this "
          "year beside the years before. A season is a calendar year; south of the "
          "equator it runs from 1 July to 30 June.\n\n"
          "A frost night had a low below 0 °C (32 °F) and belongs to the morning it "
          "ends, as in `rimeward week`. Last and first frost are those before and after "
          "midsummer's 1 July (south: 1 January); a `?` says that nights near it are "
          "missing. Chill hours are those from 0 to 7.2 °C (32 to 45 °F) of the winter "
          "that the season began in, which fruit needs before it wakes. Degree days add "
          "up the warmth above 5 and 10 °C, hour by hour, since the season began: the "
          "lower base is for peas, lettuce and other hardy plants, the upper one for "
          "tender ones. `by` lines compare past years at the same date.\n\n"
          "Gaps of up to six hours are bridged; what is longer is told as missing, and "
          "sums are the lower for it. Highs and lows from a notebook count where no "
          "thermometer has the whole day; of a year known by these alone there are no "
          "sums over hours.\n\n"
          "  rimeward season --place yard\n"
          "  Yard\n"
          "                           2026 so far          2025\n"
          "  frost nights                     23            58\n"
          "    by 12 Apr                      23            31\n"
          "  last frost of spring          7 Apr         9 May\n"
          "  first frost of autumn             -        12 Oct\n"
          "  coldest night °C       -9.1, 14 Jan  -7.2, 11 Feb\n\n"
          "  rimeward season last year\n"
          "  rimeward season 2025 --csv",
      .parameters = kParameters,
      .tabular = true,
      .answer = run};
}

}  // namespace rimeward
