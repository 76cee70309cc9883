#include "tools/cli/quantity.h"

#include <cmath>

#include <fmt/format.h>

namespace rimeward {
namespace {

bool is_fahrenheit(Channel channel, TemperatureUnit unit) {
  return unit == TemperatureUnit::kFahrenheit && is_temperature(channel);
}

// Adding zero turns a rounded -0.0 into 0.0.
double hundredth(double value) {
  return std::round(value * 100) / 100 + 0.0;
}

}  // namespace

std::string_view unit_of(Channel channel, TemperatureUnit unit) {
  return is_fahrenheit(channel, unit) ? "°F" : traits(channel).unit;
}

double shown_value(Channel channel, double value, TemperatureUnit unit) {
  return is_fahrenheit(channel, unit) ? in_fahrenheit(Celsius{value}) : value;
}

double shown_difference(Channel channel, double difference, TemperatureUnit unit) {
  return is_fahrenheit(channel, unit) ? in_fahrenheit(Kelvins{difference}) : difference;
}

double value_from_shown(Channel channel, double shown, TemperatureUnit unit) {
  return is_fahrenheit(channel, unit) ? (shown - 32) * 5 / 9 : shown;
}

double difference_from_shown(Channel channel, double shown, TemperatureUnit unit) {
  return is_fahrenheit(channel, unit) ? shown * 5 / 9 : shown;
}

std::string fine_quantity(Channel channel, double value, TemperatureUnit unit) {
  return fmt::format("{:.2f} {}", hundredth(shown_value(channel, value, unit)),
                     unit_of(channel, unit));
}

std::string signed_difference(Channel channel, double difference, TemperatureUnit unit) {
  return fmt::format("{:+.2f} {}", hundredth(shown_difference(channel, difference, unit)),
                     unit_of(channel, unit));
}

std::string size_of_difference(Channel channel, double difference, TemperatureUnit unit) {
  return fmt::format("{:.2f} {}",
                     hundredth(std::abs(shown_difference(channel, difference, unit))),
                     unit_of(channel, unit));
}

std::string correction_text(const CorrectionRow& row, TemperatureUnit unit) {
  if (row.gain == 1) return signed_difference(row.channel, row.offset, unit);
  // The line as it crosses the shown scale: where that reads 0.
  const double nought = value_from_shown(row.channel, 0, unit);
  const double shown = shown_value(row.channel, row.gain * nought + row.offset, unit);
  return fmt::format("{:.3f} times what it says, {:+.2f} {}", row.gain, hundredth(shown),
                     unit_of(row.channel, unit));
}

std::string uncertainty_text(const CorrectionRow& row, TemperatureUnit unit) {
  if (row.uncertainty <= 0) return "";
  return " ± " + size_of_difference(row.channel, row.uncertainty, unit);
}

}  // namespace rimeward
