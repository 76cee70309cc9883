#include "tools/cli/tonight.h"

#include <algorithm>
#include <utility>

#include "daemon/climate/cover.h"
#include "daemon/climate/features.h"
#include "daemon/climate/outlook.h"
#include "daemon/climate/sun.h"
#include "daemon/store/outlook_rows.h"
#include "daemon/store/place_hours.h"
#include "tools/cli/record.h"
#include "tools/cli/words.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;

// What the place's cover was and is, and what covers add there.
struct Covers {
  CoverHistory history;
  Lifts lifts;
};

Covers covers_of(const Context& context, const Place& place, Instant since) {
  Covers covers{.history = history_of(context.store.covers(place.id, since)),
                .lifts = {}};
  if (const auto saved = context.store.learned(place.id, "lift")) {
    if (auto lifts = Lifts::restore(*saved)) covers.lifts = std::move(*lifts);
  }
  return covers;
}

// The lowest reading since sunset as it would be without a cover, and when it was read.
std::optional<TimedValue> lowest_uncovered(const Context& context, const OutlookRow& row,
                                           SeriesId air, const Covers& covers) {
  std::optional<TimedValue> lowest;
  context.store.each_reading(row.sunset, context.now + 1s, [&](const ReadingRow& one) {
    if (one.series != air) return;
    const Kelvins lift = lift_at(covers.history, covers.lifts, night_of(row), one.time);
    const double value = from_milli(one.value) - lift.degrees;
    if (!lowest || value < lowest->value) lowest = TimedValue{one.time, value};
  });
  return lowest;
}

// What was read since the outlook was issued.
std::optional<ReadSince> read_since(const Context& context, const PlaceTonight& tonight,
                                    const OutlookRow& row,
                                    const std::optional<Latest>& newest, SeriesId air,
                                    const Covers& covers) {
  if (!newest || newest->time <= row.issued_at) return std::nullopt;
  const Kelvins lift = lift_at(covers.history, covers.lifts, night_of(row), newest->time);
  ReadSince read{.at = newest->time,
                 .air = Celsius{from_milli(newest->value)} - lift,
                 .lowest = tonight.lowest,
                 .lowest_at = tonight.lowest_at};
  if (!was_covered(covers.history) || !tonight.lowest) return read;
  if (const auto lowest = lowest_uncovered(context, row, air, covers)) {
    read.lowest = Celsius{lowest->value};
    read.lowest_at = lowest->at;
  }
  return read;
}
void add_lowest(PlaceTonight& tonight, const OutlookRow& row, const Context& context,
                SeriesId air) {
  if (context.now <= row.sunset) return;
  const auto since = context.store.extremes(
      air, row.sunset, std::min(context.now + 1s, row.sunrise + kAfterSunrise));
  if (!since) return;
  tonight.lowest = Celsius{from_milli(since->low)};
  tonight.lowest_at = since->low_at;
}

// The course of the air under a cover: that of the open place, lifted.
NightCourse under(const NightCourse& open, const Lift& lift) {
  NightCourse covered = open;
  covered.outlook = under(open.outlook, lift);
  covered.air = open.air + lift.added;
  covered.coming_low = open.coming_low + lift.added;
  return covered;
}

// Under the cover that is on now; what was measured beneath it bounds the low.
NightCourse as_covered(const NightCourse& open, const PlaceTonight& tonight,
                       const Lifts& lifts) {
  if (tonight.cover_layers == 0) return open;
  NightCourse covered = under(open, lifts.of(tonight.cover_layers));
  Outlook& outlook = covered.outlook;
  outlook = held_to(outlook, tonight.lowest);
  return covered;
}

// Before sunrise, while there is a choice, and where there is something to protect.
void add_layers(PlaceTonight& tonight, const NightCourse& open, const Lifts& lifts,
                Instant now) {
  const Place& place = *tonight.place;
  if (place.fleece_layers == 0 || !place.keep_above || now >= open.outlook.sunrise) {
    return;
  }
  for (int layers = 0; layers <= std::min(place.fleece_layers, kMostLayers); ++layers) {
    const Lift lift = lifts.of(layers);
    const Outlook outlook = layers == 0 ? open.outlook : under(open.outlook, lift);
    tonight.by_layers.push_back({.layers = layers,
                                 .low = outlook.low,
                                 .odds = odds_below(outlook, *place.keep_above),
                                 .nights = lift.nights});
  }
}

void add_outlook(PlaceTonight& tonight, const OutlookRow& row, const NightCourse& open,
                 const Lifts& lifts, Instant now) {
  add_layers(tonight, open, lifts, now);
  const NightCourse course = as_covered(open, tonight, lifts);
  const Outlook& outlook = course.outlook;
  if (const auto& keep_above = tonight.place->keep_above) {
    tonight.odds = odds_below(outlook, *keep_above);
    const bool fallen = tonight.lowest && *tonight.lowest <= *keep_above;
    const auto at = fallen ? std::nullopt : crossing(course, *keep_above);
    if (at) tonight.falls_below_at = whole_second(*at);
  }
  tonight.expected = Expected{.outlook = row,
                              .low = outlook.low,
                              .low10 = outlook.low10,
                              .low90 = outlook.low90,
                              .low_at = whole_second(course.low_at),
                              .course = half_hours(course)};
}

PlaceTonight place_tonight(const Context& context, const Place& place, int cover_layers,
                           std::chrono::sys_days night, std::optional<SeriesId> air) {
  PlaceTonight tonight;
  tonight.place = &place;
  tonight.cover_layers = cover_layers;
  tonight.record = record_of(context.store, place, night);
  std::optional<Latest> heard;
  if (air) heard = context.store.latest(*air);
  if (heard) tonight.heard_at = heard->time;
  const std::vector<OutlookRow> rows = context.store.outlooks(place.id, night, night);
  const auto newest = std::ranges::max_element(rows, {}, &OutlookRow::issued_at);
  if (newest == rows.end()) return tonight;
  if (air) add_lowest(tonight, *newest, context, *air);
  const Covers covers = covers_of(context, place, newest->sunset);
  const auto read =
      air ? read_since(context, tonight, *newest, heard, *air, covers) : std::nullopt;
  add_outlook(tonight, *newest, course_of(*newest, read), covers.lifts, context.now);
  return tonight;
}

}  // namespace

TonightAnswer answer_tonight(const Context& context) {
  const Position position = context.garden.position;
  const auto night = night_at(context.now, position);
  TonightAnswer answer{
      .night = date_of_night(night ? night->solar_day : solar_day(context.now, position)),
      .first_outlook = std::nullopt,
      .sunset = std::nullopt,
      .sunrise = std::nullopt,
      .places = {}};
  if (night) {
    // In winter an hour before sunset comes before three hours after noon.
    answer.first_outlook = whole_second(
        std::min(time_of(Moment::kAfternoon, *night), time_of(Moment::kDusk, *night)));
    answer.sunset = whole_second(night->sunset);
    answer.sunrise = whole_second(night->sunrise);
  }
  const std::vector<SeriesRow> all = context.store.all_series();
  const std::vector<CoverRow> covers = context.store.covers();
  const std::vector<NoticeRow> open = context.store.open_notices();
  for (const Place& place : context.garden.places) {
    PlaceTonight tonight =
        place_tonight(context, place, layers_on(covers, place.id), answer.night,
                      series_of(all, context.garden, place, Channel::kAirTemperature));
    std::ranges::copy_if(open, std::back_inserter(tonight.notices),
                         [&place](const NoticeRow& notice) {
                           return notice.place == place.id &&
                                  (notice.kind == "cover" || notice.kind == "danger");
                         });
    answer.places.push_back(std::move(tonight));
  }
  return answer;
}

}  // namespace rimeward
