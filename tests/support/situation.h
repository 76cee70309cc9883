// A look at the Hochfeld garden, put together by hand for the tests of the rules.

#pragma once

#include <algorithm>
#include <chrono>
#include <deque>
#include <string>
#include <vector>

#include "daemon/climate/trend.h"
#include "daemon/notice/silence.h"
#include "daemon/notice/situation.h"
#include "daemon/store/outlook_rows.h"
#include "tests/support/hochfeld.h"

namespace rimeward::testing {

// The evening of 12 April 2026 at one place. Sunset 18:03, sunrise 04:38 (UTC); local
// time is two hours later.
struct Evening {
  Place place = north_frame();
  Zone zone = berlin();
  Recents recents;
  std::vector<OutlookRow> outlooks;
  NightSpan night{.afternoon = at("2026-04-12T14:23:00Z"),
                  .sunset = at("2026-04-12T18:03:00Z"),
                  .sunrise = at("2026-04-13T04:38:00Z")};
  int cover_layers = 0;
  std::optional<NoticeRow> cover_notice;
  Advice advice;
  Lifts lifts;
  std::optional<StandIn> stand_in;

  // An outlook with its spread, as of `issued`.
  void forecast(std::string_view issued, double low, double spread) {
    OutlookRow row;
    row.place = place.id;
    row.night = std::chrono::sys_days{std::chrono::year{2026} / 4 / 13};
    row.moment = 1;
    row.issued_at = at(issued);
    row.sunset = night.sunset;
    row.sunrise = night.sunrise;
    row.low = Celsius{low};
    row.low10 = Celsius{low - 1.2816 * spread};
    row.low90 = Celsius{low + 1.2816 * spread};
    row.spread_below = row.spread_above = spread;
    row.air = Celsius{low + 5.0};
    outlooks.push_back(row);
  }

  // What the readings since the newest outlook make of it.
  std::optional<NightCourse> course(Instant now) const {
    if (outlooks.empty()) return std::nullopt;
    const OutlookRow& row = outlooks.back();
    const auto newest = recents.air.newest_at_or_before(now, std::chrono::hours{24});
    if (!newest || newest->at <= row.issued_at) {
      return course_of(row, std::nullopt);
    }
    ReadSince read{
        .at = newest->at, .air = Celsius{newest->value}, .lowest = {}, .lowest_at = {}};
    if (const auto lowest = lowest_between(recents.air, row.sunset, now)) {
      read.lowest = Celsius{lowest->value};
      read.lowest_at = lowest->at;
    }
    return course_of(row, read);
  }

  // Readings every ten minutes for an hour up to `last`, on a line that ends at `air`.
  void cooling(std::string_view last, double air, double per_hour) {
    using namespace std::chrono_literals;
    for (int ago = 60; ago >= 0; ago -= 10) {
      recents.air.insert(at(last) - std::chrono::minutes{ago},
                         air - per_hour * ago / 60.0);
    }
  }

  Situation look(std::string_view now) const {
    Situation situation{.now = at(now),
                        .wording = english(zone),
                        .zone = zone,
                        .advice = advice,
                        .places = {},
                        .sensors = {}};
    situation.places.push_back({.place = &place,
                                .keep_above = place.keep_above,
                                .recents = &recents,
                                .night = night,
                                .tonight = outlooks,
                                .course = course(at(now)),
                                .lifts = &lifts,
                                .cover_layers = cover_layers,
                                .stand_in = stand_in,
                                .cover_notice = cover_notice ? &*cover_notice : nullptr});
    return situation;
  }
};

// A garden of sensors of the north frame that each report at their own rhythm, until the
// broker or one of them fails.
struct Listening {
  Evening evening;
  std::deque<Sensor> sensors;
  std::vector<SensorView> views;

  SensorView& add(const std::string& id, std::chrono::seconds gap,
                  std::string_view last_heard) {
    Sensor sensor = sensor_of("north-frame");
    sensor.id = id;
    sensors.push_back(sensor);
    views.push_back({.sensor = &sensors.back(),
                     .place = &evening.place,
                     .last_heard = at(last_heard),
                     .ever_heard = true,
                     .usual_gap = gap});
    return views.back();
  }

  SensorView& view(std::string_view id) {
    return *std::ranges::find(views, id, [](const SensorView& one) -> std::string_view {
      return one.sensor->id;
    });
  }

  // As the daemon does on a message: the first one after a silence of the garden wakes
  // those that were silent with it.
  void hear(std::string_view id, Instant now) {
    const std::vector<SensorView> before = views;
    const Silence silence = silence_among(before, now);
    for (std::size_t i = 0; silence.garden_since && i < views.size(); ++i) {
      const bool by_itself = std::ranges::any_of(
          silence.sensors, [&](const auto& one) { return one.view == &before[i]; });
      if (!by_itself) views[i].awaited_since = now;
    }
    view(id).last_heard = now;
    view(id).ever_heard = true;
  }

  Situation look(Instant now) const {
    Situation situation = evening.look("2026-04-12T12:00:00Z");
    situation.now = now;
    situation.sensors = views;
    return situation;
  }
};

}  // namespace rimeward::testing
