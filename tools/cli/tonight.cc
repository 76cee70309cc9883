#include "tools/cli/tonight.h"

#include <algorithm>
#include <utility>

#include "daemon/climate/features.h"
#include "daemon/climate/night_curve.h"
#include "daemon/climate/outlook.h"
#include "daemon/climate/sun.h"
#include "daemon/climate/trend.h"
#include "daemon/store/outlook_rows.h"
#include "tools/cli/record.h"
#include "tools/cli/words.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;

// The newest reading, where it is of this night and fresh, is where the curve starts.
std::optional<Instant> falls_below(Celsius keep_above, const Expected& expected,
                                   const Latest& newest, Instant now) {
  const OutlookRow& row = expected.outlook;
  if (newest.time < row.sunset || newest.time >= row.sunrise ||
      now - newest.time > kTrendSpan) {
    return std::nullopt;
  }
  const auto at = crossing({.start = newest.time,
                            .air = Celsius{from_milli(newest.value)},
                            .sunrise = row.sunrise,
                            .low = expected.low},
                           keep_above);
  if (!at) return std::nullopt;
  return whole_second(*at);
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

void add_outlook(PlaceTonight& tonight, const OutlookRow& row,
                 const std::optional<Latest>& newest, Instant now) {
  const Outlook outlook = outlook_of(row);
  const Celsius low = low_so_far(outlook, tonight.lowest);
  const Expected expected{
      .outlook = row,
      .low = low,
      .low10 = std::min(row.low10, low),
      .low90 = std::min(row.low90, tonight.lowest.value_or(row.low90))};
  if (const auto& keep_above = tonight.place->keep_above) {
    tonight.odds = odds_below(outlook, *keep_above, tonight.lowest);
    const bool fallen = tonight.lowest && *tonight.lowest <= *keep_above;
    if (newest && !fallen) {
      tonight.falls_below_at = falls_below(*keep_above, expected, *newest, now);
    }
  }
  tonight.expected = expected;
}

PlaceTonight place_tonight(const Context& context, const Place& place,
                           std::chrono::sys_days night, std::optional<SeriesId> air) {
  PlaceTonight tonight;
  tonight.place = &place;
  tonight.record = record_of(context.store, place, night);
  std::optional<Latest> heard;
  if (air) heard = context.store.latest(*air);
  if (heard) tonight.heard_at = heard->time;
  const std::vector<OutlookRow> rows = context.store.outlooks(place.id, night, night);
  const auto newest = std::ranges::max_element(rows, {}, &OutlookRow::issued_at);
  if (newest == rows.end()) return tonight;
  if (air) add_lowest(tonight, *newest, context, *air);
  add_outlook(tonight, *newest, heard, context.now);
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
        place_tonight(context, place, answer.night,
                      series_of(all, context.garden, place, Channel::kAirTemperature));
    tonight.cover_layers = layers_on(covers, place.id);
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
