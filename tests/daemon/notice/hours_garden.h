// The Hochfeld garden by the hour, with its batches, put together by hand for the tests
// of the rules that look back over hours and nights.

#pragma once

#include <chrono>
#include <deque>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/climate/hour_book.h"
#include "daemon/notice/rule.h"
#include "tests/support/hochfeld.h"

namespace rimeward::testing {

// One place with what is known of it.
struct HoursPlace {
  Place place;
  Recents recents{};
  HourBook hours{};
  std::vector<NightRow> nights{};
  std::vector<OutlookRow> outlooks{};
  std::optional<Dryness> dryness{};
  std::optional<SoilMoisture> soil_moisture{};

  // A reading each half past from the hour `from` to before `to`, as of a sensor without
  // humidity where that is left out.
  void fill(std::string_view from, std::string_view to, double air,
            std::optional<double> humidity) {
    for (Instant hour = at(from); hour < at(to); hour += std::chrono::hours{1}) {
      const Instant time = hour + std::chrono::minutes{30};
      hours.add(Channel::kAirTemperature, 0, time, to_milli(air));
      if (humidity) hours.add(Channel::kHumidity, 0, time, to_milli(*humidity));
    }
  }

  // The lows of the nights whose last ends on `morning`; oldest first.
  void lows(std::chrono::sys_days morning, const std::vector<double>& degrees) {
    const auto count = static_cast<int>(degrees.size());
    for (int i = 0; i < count; ++i) {
      nights.push_back({.place = place.id,
                        .night = morning - std::chrono::days{count - 1 - i},
                        .low = Celsius{degrees[static_cast<std::size_t>(i)]}});
    }
  }
};

struct HoursGarden {
  Zone zone = berlin();
  Advice advice{};
  TemperatureUnit units = TemperatureUnit::kCelsius;
  NightSpan night{.afternoon = at("2026-04-13T14:23:00Z"),
                  .sunset = at("2026-04-13T18:04:00Z"),
                  .sunrise = at("2026-04-14T04:36:00Z")};
  std::deque<HoursPlace> places{};
  std::deque<Crop> crops{};
  std::deque<BatchRow> rows{};
  std::vector<BatchView> batches{};

  HoursPlace& add(const std::string& id, const std::string& name, PlaceKind kind) {
    HoursPlace one;
    one.place.id = id;
    one.place.name = name;
    one.place.kind = kind;
    places.push_back(std::move(one));
    return places.back();
  }

  BatchView& sow(const std::string& id, Crop crop, std::chrono::sys_days sown,
                 const Place& where) {
    crops.push_back(std::move(crop));
    rows.push_back({.id = id, .crop = crops.back().id, .sown = sown});
    batches.push_back({.row = &rows.back(), .crop = &crops.back(), .place = &where});
    return batches.back();
  }

  // Its stages, each with so many degree days and hours since the sowing.
  static void warm(BatchView& batch, const std::vector<double>& degree_days, int hours) {
    batch.stages.clear();
    for (std::size_t i = 0; i < degree_days.size(); ++i) {
      batch.stages.push_back(
          {.stage = &batch.crop->stages.at(i),
           .warmth = {.amount = to_milli(degree_days[i] * 24), .hours = hours}});
    }
  }

  Situation look(std::string_view now) const { return look(at(now)); }

  Situation look(Instant now) const {
    Situation situation{.now = now,
                        .wording = Wording("en", units, zone),
                        .zone = zone,
                        .advice = advice,
                        .places = {},
                        .sensors = {},
                        .batches = batches};
    for (const HoursPlace& one : places) {
      situation.places.push_back({.place = &one.place,
                                  .keep_above = one.place.keep_above,
                                  .recents = &one.recents,
                                  .hours = &one.hours,
                                  .nights = one.nights,
                                  .dryness = one.dryness,
                                  .soil_moisture = one.soil_moisture,
                                  .night = night,
                                  .tonight = one.outlooks});
    }
    return situation;
  }
};

inline Crop chilli() {
  return {.id = "chilli",
          .name = "chilli",
          .tenderness = Tenderness::kTender,
          .base = Celsius{10},
          .stages = {{.name = "emergence", .heat_sum = 90, .base = Celsius{8}},
                     {.name = "potting on", .heat_sum = 200, .base = Celsius{8}}},
          .keep_above = Celsius{7},
          .plural = "chillies"};
}

// "holds", "lingers", or "" for the first of the findings, or none.
inline std::string state_of(const std::vector<Finding>& findings) {
  if (findings.empty()) return "";
  return findings.front().holds ? "holds" : "lingers";
}

}  // namespace rimeward::testing
