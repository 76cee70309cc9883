// The garden as its keeper configured it: plain values, read from the settings file by
// daemon/settings.h. Everything below the settings sees only these.

#pragma once

#include <chrono>
#include <optional>
#include <string>
#include <vector>

#include "daemon/base/crop.h"
#include "daemon/base/quantities.h"
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
  // As set. Absent: from the batches in it (daemon/notice/keep_above.h).
  std::optional<Celsius> keep_above;
  std::optional<Celsius> vent_above;
  // Drying demand since a watering was written down from which to look at the water;
  // absent: the usual one of the kind (Advice).
  std::optional<KilopascalHours> dry_after;
  std::optional<double> soil_moisture_low;  // percent, as the sensor reports it
  int fleece_layers = 1;                    // how many there are to put on; 0: none
  Odds act_at{0.2};  // odds of harm from which covering is worth it (cost/loss)
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

// Whether all that it is said to report is an outside opinion of the coming night.
bool is_forecast(const Sensor& sensor);

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
  // Where the gardener says what was done, as JSON (daemon/notice/action_json.h). Empty:
  // nowhere but at the terminal.
  std::string command_topic;
};

enum class TemperatureUnit { kCelsius, kFahrenheit };

// The thresholds of the advice about damp, blight and dryness; each may be set. Where the
// shipped figures are from stands with the rules (daemon/notice/rule_damp.cc and so on).
struct DampLimits {
  RelativeHumidity humidity{90};  // from here on air is damp
  Celsius warmer_than{10};        // grey mould grows
  Celsius cooler_than{25};
  std::chrono::hours for_hours{6};  // in a row
};

struct BlightLimits {
  Celsius low{10};  // of each of two days
  RelativeHumidity humidity{90};
  std::chrono::hours for_hours{6};  // of each day, in a row or not
};

// Drying demand since the last watering, for places that set no dry_after.
struct DryLimits {
  KilopascalHours covered{24};  // trays and small pots
  KilopascalHours open{48};     // beds
};

struct Advice {
  DampLimits damp;
  BlightLimits blight;
  DryLimits dry;
};

struct StoreSettings {
  std::string file = "/var/lib/rimeward/garden.db";
  std::string spool = "/run/rimeward/spool";  // a folder; on tmpfs, kept across restarts
  std::chrono::milliseconds commit_every{60'000};
  std::optional<std::chrono::milliseconds> keep_readings{};  // absent: for ever
};

// The gardener's own hours, local times of day, and what is sent at set hours. Absent: no
// such hour, no such letter.
struct GardenerHours {
  std::optional<std::chrono::minutes> evening_by;    // done outside by then
  std::optional<std::chrono::minutes> morning_from;  // not before then in the morning
  std::optional<std::chrono::minutes> morning_summary;
  std::optional<std::chrono::minutes> sunday_letter;
};

// A part of each day, local time; it may run over midnight.
struct DailySpan {
  std::chrono::minutes from{};
  std::chrono::minutes to{};
};

// How a notice reaches a person, as configured; daemon/delivery makes the routes of it.
struct RouteSettings {
  std::string kind;                    // "mqtt", "email", "http" or "command"
  std::vector<std::string> kinds_for;  // of notices; empty: all
  std::vector<std::string> places;     // ids; empty: all
  std::optional<DailySpan> quiet;      // held meanwhile, but for danger
  // When what has come since the last one is sent as one message; absent: each at once.
  std::optional<std::chrono::minutes> digest;
  std::chrono::seconds time_limit{20};    // after which an attempt is given up
  std::string topic = "rimeward/notice";  // mqtt
  std::vector<std::string> run;           // command: the program and its arguments

  // email: smtp://host:port or smtps://host:port; http: http:// or https://.
  std::string address;
  std::string ca_file;    // email, http: whom to trust besides; empty: as the system
  bool encrypted = true;  // email by smtp://: only after STARTTLS
  std::string user;       // email; empty: nobody logs in
  std::string password_file;
  std::string from;                  // "rimeward@example.org"
  std::vector<std::string> to;       // addresses
  bool as_text = false;              // http: plain text instead of JSON
  std::vector<std::string> headers;  // http: "Name: value"
  std::string bearer_file;           // http: a token, sent as Authorization: Bearer
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
  std::string language = "en";  // of the notices (daemon/notice/languages.def)
  GardenerHours hours;
  std::string crops_file;  // the gardener's own crops; empty: none
  Advice advice;
  CropTable crops;  // read for what reckons with them (daemon/crops.h), else empty
  std::vector<Place> places;
  std::vector<Sensor> sensors;
  std::vector<RouteSettings> routes;
  Broker broker;
  StoreSettings store;
};

}  // namespace rimeward
