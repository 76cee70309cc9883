// How each sensor of the garden is: what the store knows of it, put together.

#pragma once

#include <chrono>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include <nlohmann/json_fwd.hpp>

#include "sensors/result.h"
#include "tools/cli/verb.h"

namespace rimeward {

struct BatteryNow {
  Channel channel{};  // kBatteryPercent or kBatteryVoltage
  double value = 0;   // in the channel's unit
  Instant at{};
  bool is_low = false;
};

// What was said in the last day, and how much of it was not believed.
struct Lately {
  int believed = 0;
  int doubted = 0;  // without what was measured during a check
  Doubt mostly = Doubt::kNone;
};

struct SensorHealth {
  const Sensor* sensor = nullptr;  // into the garden
  std::vector<SeriesRow> series{};
  std::string format{};  // a decoder's name; empty: not known
  bool format_is_found = false;
  std::string unclear{};  // what its messages could be, where that is not clear
  std::optional<Instant> heard_at{};
  std::optional<Instant> unreadable_at{};  // its newest message, where that was not read
  std::optional<std::chrono::seconds> usual_gap{};
  bool is_silent = false;
  std::optional<BatteryNow> battery{};
  std::vector<TallyRow> tallies{};
  Lately lately{};
  std::vector<CorrectionRow> corrections{};  // oldest first, those undone too
  std::vector<FactRow> facts{};
  std::optional<Instant> checked_until{};  // while it is being checked
};

// Of every sensor, in the order of the settings.
std::vector<SensorHealth> health_of_sensors(const Context& context);

// How often it usually is heard; nothing before the first few readings.
std::optional<std::chrono::seconds> usual_gap_of(const Store& store,
                                                 std::span<const SeriesRow> series);

// The series of a sensor where it now is.
std::vector<SeriesRow> series_of(std::span<const SeriesRow> all, const Sensor& sensor);

// The error names the nearest and all the others. Good as long as the garden.
Result<const Sensor*> find_sensor(const Garden& garden, std::string_view word);

// True for what says that something is wrong; copies and repeats come with MQTT.
bool is_trouble(Doubt doubt);
bool is_in_force(const CorrectionRow& row);

// "now", "10 min ago", "3 h ago", "5 days ago", "never".
std::string age_text(std::optional<Instant> at, Instant now);
// "10 min", "90 s", "3 h".
std::string gap_text(std::chrono::seconds gap);
// "json", "json (found)", "not clear", "-".
std::string format_text(const SensorHealth& health);

// One sentence for each thing that the gardener should do about it; often none.
std::vector<std::string> advice_for(const Context& context, const SensorHealth& health);

nlohmann::ordered_json json_of(const SensorHealth& health, const Context& context);
nlohmann::ordered_json json_of(const CorrectionRow& row);

}  // namespace rimeward
