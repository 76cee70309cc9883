// The Hochfeld garden for the tests of letters: three places with a sensor each, a store
// to be filled by hand, and what is written of it.

#pragma once

#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include <doctest/doctest.h>

#include "daemon/letters.h"
#include "tests/support/hochfeld.h"

namespace rimeward::testing {

struct LettersGarden {
  Garden garden = hochfeld();
  Zone zone = berlin();
  Wording wording = english(zone);
  Store store = Store::in_memory();
  Changes changes;  // to be committed

  LettersGarden() {
    Place bed;
    bed.id = "pea-bed";
    bed.name = "Pea bed";
    garden.places.push_back(bed);
    garden.sensors.push_back(sensor_of("pea-bed"));
    garden.hours.morning_summary = std::chrono::hours{9};
    garden.hours.sunday_letter = std::chrono::hours{18};
    store.set_days(DayGrid(zone, garden.day_starts));
    for (SeriesId id = 1; id <= 3; ++id) {
      const Sensor& sensor = garden.sensors.at(static_cast<std::size_t>(id) - 1);
      changes.series.push_back({id, sensor.id, sensor.place, Channel::kAirTemperature});
    }
  }

  void read(SeriesId series, Instant time, double air) {
    changes.readings.push_back({time, series, to_milli(air)});
  }

  // Every hour of some days, warm by day, and 12 degrees colder at dawn.
  void read_days(SeriesId series, std::string_view from, int days, double high) {
    for (int hour = 0; hour < 24 * days; ++hour) {
      const int of_day = hour % 24;  // from 07:00 UTC, 09:00 in the garden
      const int from_noon = of_day < 6 ? 6 - of_day : of_day - 6;
      const double air = high - 12.0 * from_noon / 17.0 + hour / 24 * 0.5;
      read(series, at(from) + std::chrono::hours{hour}, air);
    }
  }

  // What an outlook had said for the night of that morning.
  void expect(const std::string& place, std::string_view night, int moment, double low) {
    OutlookRow row;
    row.place = place;
    row.night = date(night);
    row.moment = moment;
    row.issued_at = Instant{row.night} - std::chrono::hours{10 - 2 * moment};
    row.sunset = Instant{row.night} - std::chrono::hours{6};
    row.sunrise = Instant{row.night} + std::chrono::hours{5};
    row.low = Celsius{low};
    row.low10 = Celsius{low - 2};
    row.low90 = Celsius{low + 1.5};
    row.spread_below = row.spread_above = 1;
    changes.outlooks.push_back(row);
  }

  void night(const std::string& place, std::string_view morning, double low,
             std::string_view low_at, std::optional<int> layers = 0, double lift = 0) {
    changes.nights.push_back(
        {place, date(morning), Celsius{low}, at(low_at), layers, lift});
  }

  NoticeRow& notice(std::string kind, std::string_view raised_at, std::string title) {
    const NoticeId id = static_cast<NoticeId>(changes.notices.size()) + 1;
    NoticeRow& row = changes.notices[id];
    row.id = id;
    row.kind = std::move(kind);
    row.subject = row.place = "north-frame";
    row.raised_at = row.spoke_at = at(raised_at);
    row.title = std::move(title);
    row.body = "Why, with the numbers.";
    return row;
  }

  void commit(std::string_view now) {
    changes.now = at(now);
    store.commit(std::exchange(changes, {}));
  }

  // The one letter that a look at its hour brings.
  WrittenLetter letter(std::string_view hour) const {
    Letters letters(garden, zone, wording, store);
    Changes written;
    letters.look(at(hour), written);
    const auto all = letters.write(store, at(hour), written);
    REQUIRE(all.size() == 1);
    return all.front();
  }

  static std::chrono::sys_days date(std::string_view text) {
    return std::chrono::floor<std::chrono::days>(at(std::string(text) + "T00:00:00Z"));
  }
};

}  // namespace rimeward::testing
