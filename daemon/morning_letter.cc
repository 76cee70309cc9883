#include "daemon/morning_letter.h"

#include <algorithm>
#include <chrono>
#include <map>
#include <optional>

#include "daemon/climate/features.h"
#include "daemon/climate/outlook.h"
#include "daemon/letter_tables.h"
#include "daemon/notice/told_keep_above.h"
#include "daemon/notice/words.h"
#include "daemon/store/outlook_rows.h"
#include "daemon/store/place_hours.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;

// Readings of the last minutes may still be on their way. A letter that is written again
// after a kill is to have the same ones.
constexpr auto kSettled = 10min;
// Where the sun does not set, as much is looked at before the letter's hour.
constexpr auto kWithoutNight = 12h;
constexpr std::size_t kGap = 2;

// The night before a letter, as it is looked at.
struct LastNight {
  std::chrono::sys_days date;  // of its morning
  Night span;                  // ends where it is looked at no further: end_of(span)
  bool is_over = false;
};

struct PlaceNight {
  const Place* place = nullptr;
  std::optional<Celsius> low;
  std::optional<Instant> low_at;
  bool is_heard = false;         // some reading came, if too few to know the low
  std::optional<int> layers{0};  // absent: changed in the night
  std::optional<OutlookRow> outlook;
  std::optional<Celsius> keep_above;
};

LastNight last_night(const LetterSources& from) {
  const Position position = from.garden.position;
  const std::int64_t evening = solar_day(from.at, position) - 1;
  const Instant settled = from.at - kSettled;
  LastNight last{.date = date_of_night(evening), .span = {}};
  const auto night = night_of(evening, position);
  last.span = night.value_or(Night{.solar_day = evening,
                                   .noon = {},
                                   .sunset = from.at - kWithoutNight,
                                   .sunrise = {}});
  last.is_over = night && end_of(*night) < from.at;
  if (!last.is_over) last.span.sunrise = settled - kAfterSunrise;
  return last;
}

// What was read of the air in one night, by series.
std::map<SeriesId, Series> readings_of(const Store& store,
                                       const std::vector<SeriesRow>& all,
                                       const Night& night) {
  std::map<SeriesId, Series> readings;
  for (const SeriesRow& row : all) {
    if (row.channel == Channel::kAirTemperature) readings[row.id] = {};
  }
  store.each_reading(whole_second(night.sunset), whole_second(end_of(night)),
                     [&readings](const ReadingRow& row) {
                       const auto air = readings.find(row.series);
                       if (air == readings.end()) return;
                       air->second.insert(row.time, from_milli(row.value));
                     });
  return readings;
}

void put_low(PlaceNight& put, const Night& night, const Series& air) {
  const NightRecord record = record_of(night, air);
  put.is_heard = record.low.has_value();
  if (!record.low || record.readings < kFewestReadings) return;
  if (record.longest_gap_hours > kLongestGapHours) return;
  put.low = Celsius{record.low->value};
  put.low_at = record.low->at;
}

// The newest from before the late moment, at which the night is as good as known.
std::optional<OutlookRow> outlook_for(const LetterSources& from, const Place& place,
                                      std::chrono::sys_days night) {
  std::optional<OutlookRow> newest;
  for (OutlookRow& row : from.store.outlooks(place.id, night, night)) {
    if (row.moment == static_cast<int>(Moment::kLate)) continue;
    if (!newest || row.issued_at > newest->issued_at) newest = std::move(row);
  }
  return newest;
}

std::optional<int> layers_of(const LetterSources& from, const Place& place,
                             const Night& night) {
  CoverHistory history =
      history_of(from.store.covers(place.id, whole_second(night.sunset)));
  std::erase_if(history, [&](const CoverChange& one) { return one.since > from.at; });
  return layers_over(history, night);
}

// What the store keeps of a night that is over, it has looked at as it should be; else
// its readings say.
PlaceNight place_night(const LetterSources& from, const LastNight& last,
                       const Place& place, const std::vector<SeriesRow>& all,
                       const std::map<SeriesId, Series>& readings) {
  PlaceNight known{.place = &place,
                   .low = {},
                   .low_at = {},
                   .layers = layers_of(from, place, last.span),
                   .outlook = outlook_for(from, place, last.date),
                   .keep_above = told_keep_above(from.store, place)};
  if (last.is_over) {
    const auto rows = from.store.nights(place.id, last.date, last.date);
    if (!rows.empty() && rows.front().low) {
      known.low = rows.front().low;
      known.low_at = rows.front().low_at;
      known.layers = rows.front().layers;
      return known;
    }
  }
  const auto series = series_of(all, from.garden, place, Channel::kAirTemperature);
  const auto air = series ? readings.find(*series) : readings.end();
  if (air != readings.end()) put_low(known, last.span, air->second);
  return known;
}

std::vector<PlaceNight> place_nights(const LetterSources& from, const LastNight& last) {
  const std::vector<SeriesRow> all = from.store.all_series();
  const std::map<SeriesId, Series> readings = readings_of(from.store, all, last.span);
  std::vector<PlaceNight> nights;
  for (const Place* place : places_with_air(from))
    nights.push_back(place_night(from, last, *place, all, readings));
  return nights;
}

std::string outlook_text(const LetterSources& from,
                         const std::optional<OutlookRow>& outlook) {
  if (!outlook) return "-";
  return from.wording.say(Phrase::kLetterRange,
                          fmt::arg("low", degrees_text(outlook->low, from.wording)),
                          fmt::arg("low10", degrees_text(outlook->low10, from.wording)),
                          fmt::arg("low90", degrees_text(outlook->low90, from.wording)));
}

// Whether keep-above held, or why nobody knows. At keep-above it did not, as the odds and
// every notice have it.
std::string result_text(const LetterSources& from, const PlaceNight& night) {
  const auto say = [&from](Phrase phrase) { return from.wording.say(phrase); };
  if (!night.low) {
    return say(night.is_heard ? Phrase::kLetterTooFewReadings : Phrase::kLetterNoReading);
  }
  if (!night.keep_above) return "";
  return say(*night.low > *night.keep_above ? Phrase::kLetterHeld
                                            : Phrase::kLetterNotHeld);
}

std::string night_table(const LetterSources& from,
                        const std::vector<PlaceNight>& nights) {
  const Wording& wording = from.wording;
  LetterColumn places{wording.say(Phrase::kLetterPlace)};
  LetterColumn lows{wording.say(Phrase::kLetterLow)};
  LetterColumn times{wording.say(Phrase::kLetterAt)};
  LetterColumn outlooks{wording.say(Phrase::kLetterOutlook)};
  LetterColumn limits;
  LetterColumn results{wording.say(Phrase::kLetterKeepAbove)};
  for (const PlaceNight& night : nights) {
    places.push_back(night.place->name);
    lows.push_back(night.low ? degrees_text(*night.low, wording) : "-");
    times.push_back(night.low_at ? wording.time(*night.low_at) : "-");
    outlooks.push_back(outlook_text(from, night.outlook));
    limits.push_back(night.keep_above ? degrees_text(*night.keep_above, wording) : "-");
  }
  align_right(lows);
  align_right(limits);
  for (std::size_t i = 0; i < nights.size(); ++i)
    results.push_back(limits[i] + " " + result_text(from, nights[i]));
  return table_text({places, lows, times, outlooks, results}, kGap);
}

// What makes a low no match for its outlook, which is of the place without a cover.
std::string cover_note(const LetterSources& from, const PlaceNight& night) {
  if (night.layers == 0 || !night.low || !night.outlook) return "";
  const std::string place = from.wording.place(night.place->name);
  if (!night.layers) {
    return sentence(
        from.wording.say(Phrase::kLetterCoverChanged, fmt::arg("place", place)));
  }
  return sentence(
      from.wording.say(Phrase::kLetterCovered, fmt::arg("place", place),
                       fmt::arg("layers", from.wording.layers(*night.layers))));
}

std::vector<std::string> night_report(const LetterSources& from, const LastNight& last,
                                      const std::vector<PlaceNight>& nights) {
  const Wording& wording = from.wording;
  if (std::ranges::none_of(
          nights, [](const PlaceNight& night) { return night.low || night.is_heard; })) {
    return {wording.say(Phrase::kLetterNothingLastNight)};
  }
  std::vector<std::string> paragraphs{
      wording.say(Phrase::kLetterMorningIntro, fmt::arg("unit", unit_text(wording)))};
  if (!last.is_over) {
    paragraphs.back() +=
        " " +
        wording.say(Phrase::kLetterNightGoesOn,
                    fmt::arg("time", wording.time(whole_second(end_of(last.span)))));
  }
  paragraphs.push_back(night_table(from, nights));
  for (const PlaceNight& night : nights)
    paragraphs.push_back(cover_note(from, night));
  return paragraphs;
}

}  // namespace

LetterText morning_letter(const LetterSources& from) {
  const LastNight last = last_night(from);
  std::vector<std::string> paragraphs =
      night_report(from, last, place_nights(from, last));
  std::ranges::move(open_matters(from), std::back_inserter(paragraphs));
  return {.title = from.wording.say(Phrase::kLetterMorningTitle,
                                    fmt::arg("garden", from.garden.name)),
          .body = letter_text(paragraphs)};
}

}  // namespace rimeward
