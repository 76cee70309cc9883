// The garden as its keeper configured it: plain values, read from the settings file by
// daemon/settings.h. Everything below the settings sees only these.

#pragma once

#include <chrono>
#include <optional>
#include <string>
#include <vector>

#include "sensors/decoders.h"
#include "sensors/sensor_type.h"
#include "sensors/units.h"

namespace rimeward {

// Degrees; north and east are positive.
struct Position {
  double latitude;   // -90 to 90
  double longitude;  // -180 to 180
};

enum class PlaceKind { kGreenhouse, kPolytunnel, kFrame, kBed, kOutdoors };

// True for a place under glass or film, which keeps a climate of its own.
constexpr bool is_covered(PlaceKind kind) {
  return kind == PlaceKind::kGreenhouse || kind == PlaceKind::kPolytunnel ||
         kind == PlaceKind::kFrame;
}

struct Place {
  std::string id;
  std::string name;  // as said in a sentence: "North frame"
  PlaceKind kind = PlaceKind::kBed;
  // Absent: nothing to protect here (the default for kind `outdoors` only; every other
  // place defaults to 0 degrees C).
  std::optional<Celsius> keep_above;
  std::optional<Celsius> vent_above;
  int fleece_layers = 1;  // how many there are to put on; 0: none
  Odds act_at{0.2};       // odds of harm from which covering is worth it (cost/loss)
};

struct Sensor {
  std::string id;
  std::string place;  // a Place's id
  // One MQTT topic, no wildcards; of a format that spans topics the one above them all.
  std::string topic;
  std::string format;  // a decoder's name; empty: found by looking
  PayloadSpec payload;
  const SensorType* type = nullptr;   // of its element; null: not said
  std::optional<double> battery_low;  // in the unit that it reports; absent: the usual
  std::optional<std::chrono::seconds> silent_after;  // absent: from its own rhythm
};

struct Broker {
  std::string address = "mqtt://127.0.0.1:1883";  // mqtt:// or mqtts://
  std::string client_id = "rimeward";
  std::vector<std::string> listen;  // topic filters; never empty after reading
  std::string user;
  std::string password_file;  // read when connecting, never logged
  std::string ca_file;
  std::string certificate;
  std::string key;
  // Where the daemon says that it listens, and its last will that it is lost. Empty only
  // for a link that is to leave no trace: it then keeps no session either.
  std::string status_topic = "rimeward/status";
};

enum class TemperatureUnit { kCelsius, kFahrenheit };

struct StoreSettings {
  std::string file = "/var/lib/rimeward/garden.db";
  std::string spool = "/run/rimeward/spool";  // a folder; on tmpfs, kept across restarts
  std::chrono::milliseconds commit_every{60'000};
};

// How a notice reaches a person, as configured; daemon/delivery makes the routes of it.
struct RouteSettings {
  std::string kind;                       // "mqtt" or "command"
  std::vector<std::string> kinds_for;     // of notices; empty: all
  std::vector<std::string> places;        // ids; empty: all
  std::string topic = "rimeward/notice";  // mqtt
  std::vector<std::string> run;           // command: the program and its arguments
  std::chrono::seconds time_limit{20};    // command: after which it is stopped
};

// "mqtt-1": what a route is called in the outbox and the log; `index` is its place in
// Garden::routes, from 0.
std::string route_name(const RouteSettings& route, std::size_t index);

struct Garden {
  std::string name;
  Position position{};
  std::string time_zone;                    // IANA name
  std::chrono::minutes day_starts{9 * 60};  // local time of day
  TemperatureUnit units = TemperatureUnit::kCelsius;
  std::vector<Place> places;
  std::vector<Sensor> sensors;
  std::vector<RouteSettings> routes;
  Broker broker;
  StoreSettings store;
};

}  // namespace rimeward
