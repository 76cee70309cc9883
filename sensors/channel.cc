#include "sensors/channel.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdlib>

namespace rimeward {
namespace {

using Keys = std::array<std::string_view, 5>;

// The keys that makers of sensors commonly use: common practice, no source. Those that
// say their unit come first: beside them the others may be in either.
constexpr std::string_view kAirKeys[]{"temperature_C", "temperature_c",   "temp_C",
                                      "temp_c",        "temperature_F",   "temperature_f",
                                      "temp_F",        "temp_f",          "temperature",
                                      "temp",          "air_temperature", "t"};
constexpr Keys kHumidityKeys{"humidity", "relative_humidity", "hum", "rh", "h"};
constexpr std::string_view kSoilKeys[]{"soil_temperature_C",
                                       "soil_temperature_c",
                                       "soil_temp_C",
                                       "soil_temp_c",
                                       "soil_temperature_F",
                                       "soil_temperature_f",
                                       "soil_temp_F",
                                       "soil_temp_f",
                                       "soil_temperature",
                                       "soil_temp",
                                       "soilTemperature",
                                       "ground_temperature",
                                       "soil_t"};
constexpr Keys kMoistureKeys{"soil_moisture", "moisture", "soilMoisture",
                             "volumetric_water_content", "vwc"};
constexpr Keys kLightKeys{"illuminance", "light", "lux", "illuminance_lux", "lx"};
constexpr Keys kPressureKeys{"pressure", "pressure_hPa", "air_pressure", "press", "p"};
constexpr Keys kVoltageKeys{"battery_voltage", "voltage", "batteryVoltage", "vbat", "v"};
constexpr Keys kBatteryKeys{"battery", "battery_percent", "battery_level", "batteryLevel",
                            "batt"};
constexpr Keys kSignalKeys{"rssi", "signal", "linkquality_dBm", "RSSI", "signal_dBm"};
// Whole phrases only: what is in a message from outside besides must not be taken for it.
constexpr std::string_view kForecastKeys[]{
    "forecast_low_C", "forecast_low_c", "forecast_low_F", "forecast_low_f",
    "forecast_low",   "forecastLow",    "tonight_low",    "low_tonight"};

// Ranges: the coldest and warmest that free air and soil have been measured at, with a
// margin for a sensor in full sun (WMO World Weather and Climate Extremes Archive: -89.2
// and 56.7 degrees C, from memory); pressure from the same archive (870 to 1,085 hPa at
// sea level) widened to gardens up to 4,000 m.
constexpr std::array kChannels{
    ChannelTraits{Channel::kAirTemperature, "temperature", "°C", -60, 70, kAirKeys},
    ChannelTraits{Channel::kHumidity, "humidity", "%", 0, 100, kHumidityKeys},
    ChannelTraits{Channel::kSoilTemperature, "soil_temperature", "°C", -40, 70,
                  kSoilKeys},
    ChannelTraits{Channel::kSoilMoisture, "soil_moisture", "%", 0, 100, kMoistureKeys},
    ChannelTraits{Channel::kLight, "light", "lx", 0, 200'000, kLightKeys},
    ChannelTraits{Channel::kPressure, "pressure", "hPa", 550, 1100, kPressureKeys},
    ChannelTraits{Channel::kBatteryVoltage, "battery_voltage", "V", 0, 30, kVoltageKeys},
    ChannelTraits{Channel::kBatteryPercent, "battery", "%", 0, 100, kBatteryKeys},
    ChannelTraits{Channel::kSignal, "signal", "dBm", -200, 20, kSignalKeys},
    ChannelTraits{Channel::kForecastLow, "forecast_low", "°C", -60, 50, kForecastKeys},
};

}  // namespace

std::span<const ChannelTraits> all_channels() {
  return kChannels;
}

const ChannelTraits& traits(Channel channel) {
  const auto found = std::ranges::find(kChannels, channel, &ChannelTraits::channel);
  if (found == kChannels.end()) std::abort();
  return *found;
}

std::optional<Channel> channel_named(std::string_view name) {
  const auto found = std::ranges::find(kChannels, name, &ChannelTraits::name);
  if (found == kChannels.end()) return std::nullopt;
  return found->channel;
}

std::string_view unit_said_by(std::string_view key, Channel channel) {
  const auto keys = traits(channel).usual_keys;
  if (!is_temperature(channel) || std::ranges::find(keys, key) == keys.end()) return "";
  if (key.ends_with("_C") || key.ends_with("_c")) return "°C";
  if (key.ends_with("_F") || key.ends_with("_f")) return "°F";
  return "";
}

Milli to_milli(double value) {
  return std::llround(value * 1000.0);
}

}  // namespace rimeward
