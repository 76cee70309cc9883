// `rimeward week`: the highs and lows of some days, place by place, past years beside.

#include <charconv>
#include <chrono>
#include <cstdlib>
#include <optional>
#include <string>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "sensors/escape.h"
#include "sensors/iso_time.h"
#include "tools/cli/date_words.h"
#include "tools/cli/json_text.h"
#include "tools/cli/places_asked.h"
#include "tools/cli/verb.h"
#include "tools/cli/week_answer.h"
#include "tools/cli/week_text.h"
#include "tools/cli/words.h"

namespace rimeward {
namespace {

using Json = nlohmann::ordered_json;
using std::chrono::days;
using std::chrono::sys_days;

constexpr std::string_view kWhen = "WHEN";
constexpr std::string_view kDaysShown = "7";
constexpr int kMostDays = 40'000;  // more than a century: a slip of the keyboard
constexpr int kMostYears = 100;

// --- what was asked for

Result<int> read_count(std::string_view option, std::string_view text, int most) {
  int count = 0;
  const auto read = std::from_chars(text.data(), text.data() + text.size(), count);
  if (read.ec != std::errc{} || read.ptr != text.data() + text.size() || count < 1 ||
      count > most) {
    return refuse(
        fmt::format("{}: expected 1 to {}, got \"{}\"", option, most, escaped(text)));
  }
  return count;
}

Result<std::optional<sys_days>> read_date(const Arguments& arguments,
                                          std::string_view name, sys_days today) {
  const auto text = arguments.text(name);
  if (!text) return std::nullopt;
  const auto date = day_from_words(name, *text, today);
  if (!date) return tl::unexpected(date.error());
  return *date;
}

Result<Dates> dates_of_options(const Arguments& arguments, sys_days today) {
  const auto from = read_date(arguments, "--from", today);
  if (!from) return tl::unexpected(from.error());
  const auto to = read_date(arguments, "--to", today);
  if (!to) return tl::unexpected(to.error());
  const auto count =
      read_count("--days", arguments.text("--days").value_or(kDaysShown), kMostDays);
  if (!count) return tl::unexpected(count.error());
  const bool counted = arguments.given("--days");
  const std::optional<sys_days> first = *from;
  const std::optional<sys_days> last = *to;
  if (counted && first && last) {
    return refuse("--days with both --from and --to: leave one of the three out");
  }
  const days others{*count - 1};
  Dates dates{.from = last.value_or(today) - others, .to = last.value_or(today)};
  if (first) {
    dates.from = *first;
    if (counted) dates.to = *first + others;
  }
  if (dates.from > dates.to) {
    return refuse(fmt::format("--from {} is after --to {}", date_text(dates.from),
                              date_text(dates.to)));
  }
  return dates;
}

Result<Dates> dates_asked(const Arguments& arguments, sys_days today) {
  const auto when = arguments.text(kWhen);
  if (!when) return dates_of_options(arguments, today);
  for (const std::string_view option : {"--days", "--from", "--to"}) {
    if (!arguments.given(option)) continue;
    return refuse(
        fmt::format("\"{}\" with {}: leave one of them out", escaped(*when), option));
  }
  return days_from_words("week", *when, today);
}

// --- CSV

std::string csv_pair(const std::optional<HighOrLow>& extreme) {
  if (!extreme) return ",";
  return fmt::format("{:.3f},{}", extreme->air.degrees,
                     extreme->at ? format_utc(*extreme->at) : "");
}

std::string csv_hours(const std::optional<HighOrLow>& extreme) {
  return extreme ? fmt::format("{}", extreme->hours) : std::string();
}

std::string csv_value(const std::optional<HighOrLow>& extreme) {
  return extreme ? fmt::format("{:.3f}", extreme->air.degrees) : std::string();
}

std::string csv_of_answer(const WeekAnswer& answer) {
  std::string text = "date,place,low,low_at,high,high_at,low_hours,high_hours";
  for (int year = 1; year <= answer.years; ++year) {
    const std::string before = year == 1 ? "1_year" : fmt::format("{}_years", year);
    text += fmt::format(",low_{0}_before,high_{0}_before", before);
  }
  text += "\n";
  for (const WeekRow& row : answer.rows) {
    const auto& [low, high] = row.known;
    text += fmt::format("{},{},{},{},{},{}", date_text(row.date), row.place->id,
                        csv_pair(low), csv_pair(high), csv_hours(low), csv_hours(high));
    for (const PastDay& past : row.past) {
      text +=
          fmt::format(",{},{}", csv_value(past.known.low), csv_value(past.known.high));
    }
    text += "\n";
  }
  return text;
}

// --- JSON

Json json_of_extreme(const Context& context, const std::optional<HighOrLow>& extreme) {
  if (!extreme) return nullptr;
  return {{"temperature_celsius", json_of(std::optional(extreme->air))},
          {"at", json_of(extreme->at)},
          {"at_local", json_local(extreme->at, context.zone)},
          {"hours_covered", extreme->hours},
          {"is_noted", extreme->is_noted}};
}

Json json_of_row(const Context& context, const WeekRow& row) {
  Json json{{"date", date_text(row.date)},
            {"place", row.place->id},
            {"low", json_of_extreme(context, row.known.low)},
            {"high", json_of_extreme(context, row.known.high)},
            {"years", Json::array()}};
  for (const PastDay& past : row.past) {
    json["years"].push_back({{"date", past.date ? Json(date_text(*past.date)) : Json()},
                             {"low", json_of_extreme(context, past.known.low)},
                             {"high", json_of_extreme(context, past.known.high)}});
  }
  return json;
}

Json json_of_difference(const Difference& difference) {
  const auto mean = difference.days > 0 ? std::optional(difference.mean) : std::nullopt;
  return {{"mean_celsius", json_of(mean)}, {"days_known", difference.days}};
}

std::string json_of_answer(const Context& context, const WeekAnswer& answer) {
  Json json = json_heading(context);
  json["from"] = date_text(answer.dates.from);
  json["to"] = date_text(answer.dates.to);
  json["days"] = Json::array();
  for (const WeekRow& row : answer.rows)
    json["days"].push_back(json_of_row(context, row));
  json["years"] = Json::array();
  for (const YearBeside& beside : years_beside(answer)) {
    json["years"].push_back({{"years_before", beside.years_before},
                             {"place", beside.place->id},
                             {"lows", json_of_difference(beside.lows)},
                             {"highs", json_of_difference(beside.highs)},
                             {"days", beside.days}});
  }
  return json_text(json);
}

constexpr Parameter kParameters[]{
    {.name = kWhen,
     .value = "",
     .help = "which days: \"last week\", 2026-04, \"12 Apr\", \"since 1 Apr\"",
     .offers = Offers::kDays,
     .takes_rest = true},
    {"--days", "N", "how many days (default 7)"},
    {.name = "--from", .value = "DAY", .help = "the first date", .offers = Offers::kDays},
    {.name = "--to",
     .value = "DAY",
     .help = "the last date (default today)",
     .offers = Offers::kDays},
    {.name = "--place",
     .value = "P",
     .help = "only this place",
     .offers = Offers::kPlaces},
    {"--years", "N", "so many past years beside, on the same dates"},
};

Reply run(const Context& context, const Arguments& arguments) {
  const sys_days today{context.zone.local_date(context.now)};
  const auto dates = dates_asked(arguments, today);
  if (!dates) return misused(dates.error().message);
  if (dates->to - dates->from >= days{kMostDays}) {
    return misused(fmt::format("{} to {}: more than {} days", date_text(dates->from),
                               date_text(dates->to), kMostDays));
  }
  const auto places = places_asked(context, arguments);
  if (!places) return misused(places.error().message);
  Result<int> years = 0;
  if (const auto text = arguments.text("--years")) {
    years = read_count("--years", *text, kMostYears);
    if (!years) return misused(years.error().message);
  }
  const WeekAnswer answer = answer_week(context, *dates, *places, *years);
  switch (context.around.format) {
    case Format::kText:
      return said(week_text(context, answer));
    case Format::kJson:
      return said(json_of_answer(context, answer));
    case Format::kCsv:
      return said(csv_of_answer(answer));
  }
  std::abort();
}

}  // namespace

VerbDetails describe_week() {
  return {
      .teaching =
          "Highs and lows, newest first, with the times at which they were read.\n\n"
          "Which days can be said in words: `yesterday`, `last week` (Monday to Sunday), "
          "`last 10 days`, `April`, `2026-04`, `12 Apr`, `12 Apr to 18 Apr`, `since 1 "
          "Apr`. Without, it is the last seven days.\n\n"
          "A night's low belongs to the morning it ends: the low shown on a date is the "
          "lowest from the hour at which days start ([garden] day_starts, 09:00) on the "
          "date before until that hour on the date. The high is the highest from that "
          "hour on the date until the same hour on the next. `low of 14 h` says that "
          "only 14 hours of that day hold readings, `so far` that it is not over yet; "
          "`noted` is from a notebook, where no thermometer has the whole day (in CSV: "
          "of 0 hours). A `-` is no reading.\n\n"
          "`--years 2` puts the same dates of the last two years beside, and says how "
          "they compare, by the days of which both are known whole. 29 February has "
          "none in a common year.\n\n"
          "  rimeward week --days 2 --place north-frame\n"
          "  date        place        low °C  at     high °C  at     note\n"
          "  Mon 13 Apr  North frame    -1.2  06:20     18.4  14:35  coldest\n"
          "  Sun 12 Apr  North frame     2.1  05:55     19.0  14:10  warmest\n\n"
          "  rimeward week last week --years 1\n"
          "  rimeward week --from 2026-04-01 --to 2026-04-30 --csv > april.csv",
      .parameters = kParameters,
      .tabular = true,
      .answer = run};
}

}  // namespace rimeward
