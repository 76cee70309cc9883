// The channels that a sensor may report, with the one table of what each is called, its
// unit, its physical range and the keys that payloads usually give it. Thread-safe: the
// table is constant.

#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string_view>

namespace rimeward {

// The numbers are stored: never reuse one.
enum class Channel : std::int8_t {
  kAirTemperature = 1,
  kHumidity = 2,
  kSoilTemperature = 3,
  kSoilMoisture = 4,
  kLight = 5,
  kPressure = 6,
  kBatteryVoltage = 7,
  kBatteryPercent = 8,
  kSignal = 9,
  kForecastLow = 10,  // an outside opinion of the coming night's low; nothing measured
};

// Whether it is in degrees Celsius, and may be told on another scale.
constexpr bool is_temperature(Channel channel) {
  return channel == Channel::kAirTemperature || channel == Channel::kSoilTemperature ||
         channel == Channel::kForecastLow;
}

// Whether a sensor measures it in its place.
constexpr bool is_measured(Channel channel) {
  return channel != Channel::kForecastLow;
}

struct ChannelTraits {
  Channel channel;
  std::string_view name;  // as in the settings file and in every output
  std::string_view unit;
  double lowest;  // of what any garden or sensor can truly report, in `unit`
  double highest;
  std::span<const std::string_view> usual_keys;  // of JSON objects, most telling first
};

std::span<const ChannelTraits> all_channels();
const ChannelTraits& traits(Channel channel);
std::optional<Channel> channel_named(std::string_view name);

// The unit that one of the channel's usual keys says itself: "°F" for "temperature_F",
// "°C" for "temp_c". "": it says none, or is no usual key of that channel.
std::string_view unit_said_by(std::string_view key, Channel channel);

// A channel's value in thousandths of its unit: what is stored, compared and computed
// with, so that a restart sees exactly the numbers that were seen before it.
using Milli = std::int64_t;

// Rounds half away from zero. REQUIRES: `value` lies within the channel's range.
Milli to_milli(double value);
constexpr double from_milli(Milli milli) {
  return static_cast<double>(milli) / 1000.0;
}

}  // namespace rimeward
