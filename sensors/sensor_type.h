// The sensing elements that cheap sensors are built on: what each can truly report, and
// what it says when something is wrong. Thread-safe: the table is constant.

#pragma once

#include <optional>
#include <span>
#include <string_view>

#include "sensors/channel.h"

namespace rimeward {

// Both ends can be reported.
struct ValueRange {
  double lowest;
  double highest;
};

struct SensorType {
  std::string_view name;                 // as in the settings file: the part's own
  ValueRange temperature;                // degrees C
  std::optional<ValueRange> humidity{};  // %; absent: it has none
  std::optional<ValueRange> pressure{};  // hPa
  // In degrees C; how far off a sound one may be, near the freezing point.
  double accuracy = 0.5;
};

std::span<const SensorType> all_sensor_types();

// nullptr: none of that name. The result lives as long as the program.
const SensorType* find_sensor_type(std::string_view name);

}  // namespace rimeward
