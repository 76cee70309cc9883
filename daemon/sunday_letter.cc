#include "daemon/sunday_letter.h"

#include <algorithm>
#include <chrono>
#include <optional>
#include <span>

#include "daemon/base/columns.h"
#include "daemon/climate/coverage.h"
#include "daemon/climate/features.h"
#include "daemon/climate/outlook.h"
#include "daemon/letter_tables.h"
#include "daemon/notice/told_keep_above.h"
#include "daemon/store/past_outlooks.h"
#include "daemon/store/place_hours.h"

namespace rimeward {
namespace {

using std::chrono::days;
using std::chrono::sys_days;

constexpr days kWeek{7};
// Further apart than a place's high and low, so that these stand together.
constexpr std::size_t kGap = 3;
constexpr std::string_view kPairGap = "  ";
constexpr std::size_t kMostPlaces = 4;  // side by side
constexpr std::size_t kNameWidth = 16;  // of a place above its column, before it wraps

struct PlaceWeek {
  const Place* place = nullptr;
  DaysByDate by_date;

  const Extremes* on(sys_days date) const {
    const auto found = by_date.find(date);
    return found == by_date.end() ? nullptr : &found->second;
  }
};

struct Week {
  DayGrid grid;
  sys_days first;  // dates on which its days begin; both included
  sys_days last;
  std::vector<PlaceWeek> places;

  std::vector<sys_days> dates() const {
    std::vector<sys_days> all;
    for (sys_days date = first; date <= last; date += days{1})
      all.push_back(date);
    return all;
  }
};

Week week_of(const LetterSources& from) {
  const DayGrid grid(from.zone, from.garden.day_starts);
  const sys_days last = sys_days{grid.day_of(from.at)} - days{1};
  Week week{.grid = grid, .first = last - kWeek + days{1}, .last = last, .places = {}};
  std::vector<DaysByDate> all =
      all_place_days(from.store, from.garden, week.first, week.last, grid);
  for (const Place* place : places_with_air(from)) {
    const auto number = static_cast<std::size_t>(place - from.garden.places.data());
    week.places.push_back({place, std::move(all[number])});
  }
  return week;
}

bool has_readings(const PlaceWeek& place) {
  return !place.by_date.empty();
}

// --- the table

// "Mon to Tue": from the hour at which days start on the one to that of the other. A day
// that starts at midnight is all of one date.
std::string day_text(const LetterSources& from, sys_days date) {
  const std::string day = from.wording.weekday(date);
  if (from.garden.day_starts == std::chrono::minutes{0}) return day;
  return from.wording.say(Phrase::kLetterDayToDay, fmt::arg("day", day),
                          fmt::arg("next", from.wording.weekday(date + days{1})));
}

bool is_in_part(const Extremes& day) {
  return day.hours < kWholeDay;
}

bool has_part_days(const Week& week) {
  return std::ranges::any_of(week.places, [](const PlaceWeek& place) {
    return std::ranges::any_of(place.by_date,
                               [](const auto& day) { return is_in_part(day.second); });
  });
}

// A place's highs and lows, below its name.
LetterColumn place_column(const LetterSources& from, const Week& week,
                          const PlaceWeek& place) {
  LetterColumn highs{from.wording.say(Phrase::kLetterHigh)};
  LetterColumn lows{from.wording.say(Phrase::kLetterLow)};
  LetterColumn marks{""};
  for (const sys_days date : week.dates()) {
    const Extremes* const day = place.on(date);
    const auto text = [&](Milli air) {
      return degrees_text(Celsius{from_milli(air)}, from.wording);
    };
    highs.push_back(day != nullptr ? text(day->high) : "-");
    lows.push_back(day != nullptr ? text(day->low) : "-");
    marks.emplace_back(day != nullptr && is_in_part(*day) ? "*" : "");
  }
  align_right(highs);
  align_right(lows);
  LetterColumn column;
  for (std::size_t i = 0; i < highs.size(); ++i)
    column.push_back(fmt::format("{}{}{}{}", highs[i], kPairGap, lows[i], marks[i]));
  return column;
}

// The names above their columns, on as many lines as the longest one takes.
void put_names(std::vector<LetterColumn>& columns,
               std::span<const PlaceWeek* const> places) {
  std::vector<LetterColumn> names{{""}};
  std::size_t height = 1;
  for (const PlaceWeek* place : places) {
    names.push_back(wrapped(place->place->name, kNameWidth));
    height = std::max(height, names.back().size());
  }
  for (std::size_t i = 0; i < columns.size(); ++i) {
    names[i].resize(height);
    columns[i].insert(columns[i].begin(), names[i].begin(), names[i].end());
  }
}

// Days below each other, places side by side: as many as fit, the others in tables below.
std::vector<std::string> week_tables(const LetterSources& from, const Week& week) {
  LetterColumn dates{""};
  for (const sys_days date : week.dates())
    dates.push_back(day_text(from, date));
  const std::size_t left = kLetterWidth - kLetterIndent - width_of(dates);
  std::vector<std::string> tables;
  std::vector<LetterColumn> columns{dates};
  std::vector<const PlaceWeek*> places;
  std::size_t used = 0;
  const auto finish = [&] {
    if (places.empty()) return;
    put_names(columns, places);
    tables.push_back(table_text(columns, kGap));
    columns = {dates};
    places.clear();
    used = 0;
  };
  for (const PlaceWeek& place : week.places) {
    LetterColumn column = place_column(from, week, place);
    const std::size_t wide =
        kGap +
        std::max(width_of(column), width_of(wrapped(place.place->name, kNameWidth)));
    if (used + wide > left || places.size() == kMostPlaces) finish();
    used += wide;
    columns.push_back(std::move(column));
    places.push_back(&place);
  }
  finish();
  return tables;
}

// --- in words

struct Record {
  const Place* place = nullptr;
  Celsius air{};
  Instant at{};
};

// An extreme of each day and place, the oldest day first.
std::vector<Record> records_of(const Week& week, Milli Extremes::*air,
                               Instant Extremes::*at) {
  std::vector<Record> records;
  for (const sys_days date : week.dates()) {
    for (const PlaceWeek& place : week.places) {
      const Extremes* const day = place.on(date);
      if (day == nullptr) continue;
      records.push_back({place.place, Celsius{from_milli(day->*air)}, day->*at});
    }
  }
  return records;
}

std::string record_text(const LetterSources& from, Phrase phrase, const Record& record) {
  return from.wording.say(phrase, fmt::arg("air", from.wording.text_of(record.air)),
                          fmt::arg("place", from.wording.place(record.place->name)),
                          fmt::arg("when", from.wording.day_and_time(record.at)));
}

// The coldest and the warmest; the first of equals. REQUIRES: some place has readings.
std::string records_text(const LetterSources& from, const Week& week) {
  const auto lows = records_of(week, &Extremes::low, &Extremes::low_at);
  const auto highs = records_of(week, &Extremes::high, &Extremes::high_at);
  return record_text(from, Phrase::kLetterColdest,
                     *std::ranges::min_element(lows, {}, &Record::air)) +
         " " +
         record_text(from, Phrase::kLetterWarmest,
                     *std::ranges::max_element(highs, {}, &Record::air));
}

// How far the outlooks were from the lows of those nights of the week that were over.
std::string outlooks_text(const LetterSources& from, const Week& week) {
  const auto night_after = [&](sys_days date) {
    return solar_day(week.grid.begins(date), from.garden.position);
  };
  const auto last_night = night_of(night_after(week.last), from.garden.position);
  const bool is_over = !last_night || end_of(*last_night) < from.at;
  const sys_days first = date_of_night(night_after(week.first));
  const sys_days last = date_of_night(night_after(week.last)) - days{is_over ? 0 : 1};
  std::vector<VerifiedOutlook> outlooks;
  for (const PlaceWeek& place : week.places)
    std::ranges::move(past_outlooks(from.store, *place.place, first, last),
                      std::back_inserter(outlooks));
  // The errors are the same with any threshold.
  const OutlookScores scores = scores_of(outlooks, Celsius{0}, Odds{1});
  if (!scores.mean_absolute_error) {
    return from.wording.say(Phrase::kLetterNoOutlooks);
  }
  return from.wording.say(
      scores.nights == 1 ? Phrase::kLetterOutlookOff : Phrase::kLetterOutlooksOff,
      fmt::arg("error", from.wording.text_of(*scores.mean_absolute_error)),
      fmt::arg("count", scores.nights));
}

std::vector<std::string> week_report(const LetterSources& from, const Week& week) {
  const Wording& wording = from.wording;
  if (std::ranges::none_of(week.places, has_readings)) {
    return {wording.say(Phrase::kLetterNothingThisWeek)};
  }
  const Instant begins = week.grid.begins(week.first);
  const Instant ends = week.grid.ends(week.last);
  std::vector<std::string> paragraphs{
      wording.say(Phrase::kLetterSundayIntro, fmt::arg("unit", unit_text(wording)),
                  fmt::arg("from", wording.day_and_time(begins)),
                  fmt::arg("to", wording.day_and_time(ends)))};
  std::ranges::move(week_tables(from, week), std::back_inserter(paragraphs));
  if (has_part_days(week)) paragraphs.push_back(wording.say(Phrase::kLetterPartDay));
  paragraphs.push_back(records_text(from, week));
  paragraphs.push_back(outlooks_text(from, week));
  return paragraphs;
}

// --- what keeps quiet, and what fails

std::string mute_text(const LetterSources& from, const MuteRow& mute) {
  const std::string until = from.wording.day_and_time(mute.until);
  const auto place = std::ranges::find(from.garden.places, mute.place, &Place::id);
  if (place == from.garden.places.end()) {
    return from.wording.say(Phrase::kLetterMutedEverywhere, fmt::arg("kind", mute.kind),
                            fmt::arg("when", until));
  }
  return from.wording.say(Phrase::kLetterMutedIn, fmt::arg("kind", mute.kind),
                          fmt::arg("place", from.wording.place(place->name)),
                          fmt::arg("when", until));
}

std::vector<std::string> muted(const LetterSources& from) {
  std::vector<std::string> items;
  for (const MuteRow& mute : from.store.mutes()) {
    if (mute.until > from.at) items.push_back(mute_text(from, mute));
  }
  if (items.empty()) return {};
  return {from.wording.say(Phrase::kLetterMuted), list_text(items)};
}

std::vector<std::string> failing(const LetterSources& from) {
  std::vector<std::string> items;
  for (const RouteRow& route : from.store.routes()) {
    if (!route.failing_since || *route.failing_since > from.at) continue;
    items.push_back(from.wording.say(
        Phrase::kLetterRouteFails, fmt::arg("route", route.name),
        fmt::arg("when", from.wording.day_and_time(*route.failing_since)),
        fmt::arg("trouble", route.trouble)));
  }
  if (items.empty()) return {};
  return {from.wording.say(Phrase::kLetterRoutesFail), list_text(items)};
}

}  // namespace

LetterText sunday_letter(const LetterSources& from) {
  std::vector<std::string> paragraphs = week_report(from, week_of(from));
  for (auto* const part : {&open_matters, &muted, &failing})
    std::ranges::move(part(from), std::back_inserter(paragraphs));
  return {.title = from.wording.say(Phrase::kLetterSundayTitle,
                                    fmt::arg("garden", from.garden.name)),
          .body = letter_text(paragraphs)};
}

WeekChart chart_of_week(const LetterSources& from) {
  const Week week = week_of(from);
  const std::string hour = from.wording.time(week.grid.begins(week.first));
  WeekChart chart{
      .title = from.wording.say(Phrase::kLetterChartTitle, fmt::arg("time", hour)),
      .days = {},
      .lines = {},
      .in_fahrenheit = from.wording.unit() == TemperatureUnit::kFahrenheit};
  for (const sys_days date : week.dates())
    chart.days.push_back(from.wording.weekday(date));
  for (const PlaceWeek& place : week.places) {
    if (!has_readings(place)) continue;
    WeekChart::Line line{.place = place.place->name,
                         .keep_above = told_keep_above(from.store, *place.place)};
    for (const sys_days date : week.dates()) {
      const Extremes* const day = place.on(date);
      const auto air = [day](Milli Extremes::*which) {
        return day == nullptr ? std::nullopt
                              : std::optional(Celsius{from_milli(day->*which)});
      };
      line.lows.push_back(air(&Extremes::low));
      line.highs.push_back(air(&Extremes::high));
    }
    chart.lines.push_back(std::move(line));
  }
  return chart;
}

}  // namespace rimeward
