// What no garden, or no sensor of its type, can have measured.

#include <cmath>

#include <fmt/format.h>

#include "daemon/climate/judge.h"

namespace rimeward {
namespace {

constexpr double kPowerOnCelsius = 85.0;
constexpr double kNotConnectedCelsius = -127.0;
// Less than the smallest difference that is stored.
constexpr double kSame = 0.0005;

// What a probe tells of its own temperature.
bool is_of_probe(Channel channel) {
  return is_temperature(channel) && is_measured(channel);
}

std::optional<ValueRange> range_of(const SensorType& type, Channel channel) {
  if (is_of_probe(channel)) return type.temperature;
  if (channel == Channel::kHumidity) return type.humidity;
  if (channel == Channel::kPressure) return type.pressure;
  return std::nullopt;
}

// Also false for what is no number.
bool is_within(double value, ValueRange range) {
  return value >= range.lowest && value <= range.highest;
}

}  // namespace

Implausible implausible(Channel channel, double said, const SensorType* type) {
  if (is_of_probe(channel) && std::abs(said - kPowerOnCelsius) < kSame) {
    return {Doubt::kPowerOn, "what a one-wire probe holds before it has measured"};
  }
  if (is_of_probe(channel) && std::abs(said - kNotConnectedCelsius) < kSame) {
    return {Doubt::kNotConnected,
            "what stands for a one-wire probe that does not answer"};
  }
  const ChannelTraits& known = traits(channel);
  const auto of_type = type != nullptr ? range_of(*type, channel) : std::nullopt;
  if (of_type && !is_within(said, *of_type)) {
    return {Doubt::kRange,
            fmt::format("outside what a {} can report: {:g} to {:g} {}", type->name,
                        of_type->lowest, of_type->highest, known.unit)};
  }
  if (!is_within(said, {known.lowest, known.highest})) {
    return {Doubt::kRange,
            fmt::format("outside what {} can be: {:g} to {:g} {}", known.name,
                        known.lowest, known.highest, known.unit)};
  }
  return {};
}

}  // namespace rimeward
