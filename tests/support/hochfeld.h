// The invented Hochfeld school garden, for tests: values as its settings file would give.

#pragma once

#include <string>
#include <string_view>

#include "daemon/base/garden.h"
#include "daemon/base/zone.h"
#include "daemon/notice/wording.h"
#include "sensors/iso_time.h"

namespace rimeward::testing {

inline Instant at(std::string_view text) {
  return parse_instant(text).value();
}

inline Zone berlin() {
  return Zone::named("Europe/Berlin").value();
}

// The zone must outlive it.
inline Wording english(const Zone& zone) {
  return Wording("en", TemperatureUnit::kCelsius, zone);
}

inline Wording german(const Zone& zone) {
  return Wording("de", TemperatureUnit::kCelsius, zone);
}

inline Sensor sensor_of(const std::string& place) {
  Sensor sensor;
  sensor.id = place + "-probe";
  sensor.place = place;
  sensor.topic = "garden/" + place + "/climate";
  return sensor;
}

inline Place north_frame() {
  Place place;
  place.id = "north-frame";
  place.name = "North frame";
  place.kind = PlaceKind::kFrame;
  place.keep_above = Celsius{1.0};
  place.fleece_layers = 2;
  return place;
}

inline Place yard() {
  Place place;
  place.id = "yard";
  place.name = "Yard";
  place.kind = PlaceKind::kOutdoors;
  return place;
}

// North frame and yard, a sensor in each, no routes.
inline Garden hochfeld() {
  Garden garden;
  garden.name = "Hochfeld school garden";
  garden.position = {48.41, 9.52};
  garden.time_zone = "Europe/Berlin";
  garden.places = {north_frame(), yard()};
  garden.sensors = {sensor_of("north-frame"), sensor_of("yard")};
  garden.broker.listen = {"garden/#"};
  return garden;
}

}  // namespace rimeward::testing
