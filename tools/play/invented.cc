#include "tools/play/invented.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <optional>

#include <nlohmann/json.hpp>

#include "daemon/climate/sun.h"
#include "sensors/iso_time.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;
using Json = nlohmann::ordered_json;

constexpr double kColdLow = -3.0;
constexpr double kColdDewPoint = -6.0;
constexpr auto kPeakAfterNoon = 150min;
constexpr double kFall = 0.65;          // exponent of the night's fall
constexpr double kLeftAtSunset = 0.45;  // of the day's warmth over the night's low

// A solar day; where the sun does not rise or set, six and eighteen o'clock by the sun.
SunEvents events_of(std::int64_t day, Position position) {
  if (const auto events = sun_events(day, position)) return *events;
  const SunTime midnight{std::chrono::duration<double>(
      static_cast<double>(day) * 86'400.0 - position.longitude * 240.0)};
  return {midnight + 6h, midnight + 12h, midnight + 18h};
}

double share(SunTime from, SunTime to, SunTime at) {
  return std::clamp((at - from) / (to - from), 0.0, 1.0);
}

// What glass or a hedge adds to the free air, by day with the sun at its height, and at
// night.
struct Shelter {
  double by_day;
  double by_night;
  double moisture;  // degrees C of dew point
};

Shelter shelter_of(PlaceKind kind) {
  switch (kind) {
    case PlaceKind::kGreenhouse:
      return {12.0, 3.0, 2.0};
    case PlaceKind::kPolytunnel:
      return {9.0, 2.0, 2.0};
    case PlaceKind::kFrame:
      return {6.0, 1.5, 1.0};
    case PlaceKind::kBed:
      return {0.5, 0.5, 0.0};
    case PlaceKind::kOutdoors:
      return {0.0, 0.0, 0.0};
  }
  std::abort();
}

// The Magnus form with the constants of Alduchov & Eskridge (1996), J. Appl. Meteorol.
// 35, 601-609.
double vapour_pressure(double dew_point) {
  return 6.1094 * std::exp(17.625 * dew_point / (243.04 + dew_point));
}

// As fine as such sensors report: a flat afternoon in tenths would look like a sensor that
// stands still.
double to_hundredths(double value) {
  return std::round(value * 100.0) / 100.0;
}

const Place* place_of(const Garden& garden, const Sensor& sensor) {
  const auto found = std::ranges::find(garden.places, sensor.place, &Place::id);
  return found == garden.places.end() ? nullptr : &*found;
}

double value_of(const InventedClimate& climate, Channel channel) {
  return channel == Channel::kHumidity ? climate.humidity.percent : climate.air.degrees;
}

constexpr bool is_invented(Channel channel) {
  return channel == Channel::kHumidity || channel == Channel::kAirTemperature;
}

void put(Json& json, const std::string& pointer, const Json& value) {
  json[Json::json_pointer(pointer)] = value;
}

std::optional<std::string> json_payload(const PayloadSpec& spec, Instant time,
                                        const InventedClimate& climate) {
  Json json = Json::object();
  put(json, spec.time_pointer.value_or("/time"), format_utc(time));
  if (spec.where.empty()) {
    put(json, "/temperature", climate.air.degrees);
    put(json, "/humidity", climate.humidity.percent);
    return json.dump();
  }
  bool any = false;
  for (const auto& [channel, pointer] : spec.where) {
    if (!is_invented(channel)) continue;
    put(json, pointer, value_of(climate, channel));
    any = true;
  }
  if (!any) return std::nullopt;
  return json.dump();
}

// Nothing when the sensor measures what is not invented here, or when its pointers go
// into an array.
std::optional<std::string> payload_of(const Sensor& sensor, Instant time,
                                      const InventedClimate& climate) {
  if (sensor.format == "number") {
    const Channel channel =
        sensor.payload.lone_channel.value_or(Channel::kAirTemperature);
    if (!is_invented(channel)) return std::nullopt;
    return Json(value_of(climate, channel)).dump();
  }
  // What no format is said of is recognised, as JSON at once.
  if (!sensor.format.empty() && sensor.format != "json") return std::nullopt;
  try {
    return json_payload(sensor.payload, time, climate);
  } catch (const Json::exception&) {
    return std::nullopt;
  }
}

}  // namespace

InventedDays::InventedDays(const InventedPlan& plan, Position position)
    : position_(position) {
  const Instant end = plan.from + plan.days * 24h;
  cold_evening_ = solar_day(end, position);
  while (events_of(cold_evening_, position).sunset >= end)
    --cold_evening_;
}

InventedClimate InventedDays::at(Instant time, PlaceKind kind) const {
  const Shelter shelter = shelter_of(kind);
  const double up = daylight(time);
  const double air =
      outdoor_air(time) + shelter.by_night + (shelter.by_day - shelter.by_night) * up;
  const double dew = std::min(dew_point(time) + shelter.moisture, air);
  const double humidity = 100.0 * vapour_pressure(dew) / vapour_pressure(air);
  return {Celsius{to_hundredths(air)},
          RelativeHumidity{std::clamp(std::round(humidity), 0.0, 100.0)}};
}

double InventedDays::outdoor_air(Instant time) const {
  const std::int64_t day = solar_day(time, position_);
  const SunEvents today = events_of(day, position_);
  const auto at_sunset = [this](std::int64_t evening) {
    const double low = low_after(evening);
    return low + kLeftAtSunset * (high(evening) - low);
  };
  const auto at_night = [&](std::int64_t evening, double gone) {
    return at_sunset(evening) -
           (at_sunset(evening) - low_after(evening)) * std::pow(gone, kFall);
  };
  if (time < today.sunrise) {
    const SunTime sunset = events_of(day - 1, position_).sunset;
    return at_night(day - 1, share(sunset, today.sunrise, time));
  }
  if (time >= today.sunset) {
    const SunTime sunrise = events_of(day + 1, position_).sunrise;
    return at_night(day, share(today.sunset, sunrise, time));
  }
  const SunTime peak = std::min<SunTime>(today.noon + kPeakAfterNoon, today.sunset - 1h);
  const double low = low_after(day - 1);
  const double quarter = std::numbers::pi / 2.0;
  if (time < peak) {
    return low + (high(day) - low) * std::sin(quarter * share(today.sunrise, peak, time));
  }
  const double fallen = 1.0 - std::cos(quarter * share(peak, today.sunset, time));
  return high(day) - (high(day) - at_sunset(day)) * fallen;
}

double InventedDays::dew_point(Instant time) const {
  const std::int64_t day = solar_day(time, position_);
  const SunTime noon = events_of(day, position_).noon;
  const std::int64_t first = time < noon ? day - 1 : day;
  const double gone =
      share(events_of(first, position_).noon, events_of(first + 1, position_).noon, time);
  const double from = noon_dew_point(first);
  return from + (noon_dew_point(first + 1) - from) * gone;
}

double InventedDays::high(std::int64_t day) const {
  if (day >= cold_evening_) return 7.0;
  return 13.0 + 1.5 * std::sin(static_cast<double>(cold_evening_ - day) * 1.3);
}

double InventedDays::low_after(std::int64_t day) const {
  if (day == cold_evening_) return kColdLow;
  return 5.2 + 0.9 * std::cos(static_cast<double>(cold_evening_ - day) * 1.7);
}

double InventedDays::noon_dew_point(std::int64_t day) const {
  if (day >= cold_evening_) return kColdDewPoint;
  return 3.5 + 1.0 * std::cos(static_cast<double>(cold_evening_ - day) * 0.9);
}

double InventedDays::daylight(Instant time) const {
  const SunEvents today = events_of(solar_day(time, position_), position_);
  const double arc =
      std::sin(std::numbers::pi * share(today.sunrise, today.sunset, time));
  return arc * arc;
}

std::vector<PlayedMessage> invented_messages(const Garden& garden,
                                             const InventedPlan& plan) {
  const InventedDays days(plan, garden.position);
  std::vector<PlayedMessage> messages;
  const Instant end = plan.from + plan.days * 24h;
  for (Instant time = plan.from; time < end; time += plan.every) {
    for (const Sensor& sensor : garden.sensors) {
      const Place* place = place_of(garden, sensor);
      if (place == nullptr) continue;
      auto payload = payload_of(sensor, time, days.at(time, place->kind));
      if (payload) messages.push_back({time, sensor.topic, std::move(*payload)});
    }
  }
  return messages;
}

}  // namespace rimeward
