#include "daemon/store/outlook_rows.h"

namespace rimeward {

OutlookRow row_of(const Outlook& outlook, std::string_view place) {
  return {.place = std::string(place),
          .night = date_of_night(outlook.solar_day),
          .moment = static_cast<int>(outlook.moment),
          .issued_at = whole_second(outlook.issued_at),
          .sunset = whole_second(outlook.sunset),
          .sunrise = whole_second(outlook.sunrise),
          .low = outlook.low,
          .low10 = outlook.low10,
          .low90 = outlook.low90,
          .spread_below = outlook.spread_below.degrees,
          .spread_above = outlook.spread_above.degrees,
          .running_low = outlook.running_low,
          .humidity_known = outlook.humidity_known,
          .air = outlook.air};
}

Outlook outlook_of(const OutlookRow& row) {
  Outlook outlook;
  outlook.solar_day = row.night.time_since_epoch().count() - 1;
  outlook.moment = static_cast<Moment>(row.moment);
  outlook.issued_at = row.issued_at;
  outlook.sunset = row.sunset;
  outlook.sunrise = row.sunrise;
  outlook.low = row.low;
  outlook.low10 = row.low10;
  outlook.low90 = row.low90;
  outlook.running_low = row.running_low;
  outlook.spread_below = Kelvins{row.spread_below};
  outlook.spread_above = Kelvins{row.spread_above};
  outlook.humidity_known = row.humidity_known;
  outlook.air = row.air.value_or(row.low);
  return outlook;
}

NightCourse course_of(const OutlookRow& row, const std::optional<ReadSince>& read) {
  const Outlook issued = outlook_of(row);
  if (row.air) return course_of(issued, read);
  return course_of(held_to(issued, read ? read->lowest : std::nullopt), std::nullopt);
}

CoverHistory history_of(std::span<const CoverRow> rows) {
  CoverHistory history;
  for (const CoverRow& row : rows)
    history.push_back({.since = row.since, .layers = row.layers});
  return history;
}

Night night_of(const OutlookRow& row) {
  return {.solar_day = row.night.time_since_epoch().count() - 1,
          .noon = {},
          .sunset = row.sunset,
          .sunrise = row.sunrise};
}

}  // namespace rimeward
