#include "daemon/notice/words.h"

#include <algorithm>
#include <array>
#include <cmath>

#include <fmt/format.h>

namespace rimeward {
namespace {

constexpr std::chrono::seconds kFiveMinutes = std::chrono::minutes{5};
constexpr std::int64_t kHour = 60;  // in minutes
constexpr std::int64_t kDay = 24 * kHour;

std::string tenths(double value) {
  // Adding zero turns a rounded -0.0 into 0.0.
  return fmt::format("{:.1f}", std::round(value * 10) / 10 + 0.0);
}

// Two bytes in UTF-8: U+00E0 to U+00FE, whose capitals lie 32 below them.
bool begins_with_accent(std::string_view text) {
  return text.size() > 1 && text[0] == '\xC3' && text[1] >= '\xA0' && text[1] <= '\xBE' &&
         text[1] != '\xB7';
}

}  // namespace

std::string text_of(Celsius temperature, TemperatureUnit unit) {
  if (unit == TemperatureUnit::kCelsius) return tenths(temperature.degrees) + " °C";
  return tenths(in_fahrenheit(temperature)) + " °F";
}

std::string whole_text_of(Celsius temperature, TemperatureUnit unit) {
  const bool celsius = unit == TemperatureUnit::kCelsius;
  const double degrees = celsius ? temperature.degrees : in_fahrenheit(temperature);
  return fmt::format("{:.0f} {}", std::round(degrees) + 0.0, celsius ? "°C" : "°F");
}

std::string text_of(Kelvins difference, TemperatureUnit unit) {
  if (unit == TemperatureUnit::kCelsius) return tenths(difference.degrees) + " °C";
  return tenths(in_fahrenheit(difference)) + " °F";
}

std::string text_of(Odds odds) {
  if (odds.value <= 0) return "0 %";
  if (odds.value >= 1) return "100 %";
  return fmt::format("{:.0f} %", std::clamp(std::round(odds.value * 100), 1.0, 99.0));
}

std::string layers_text(int layers) {
  return layers == 1 ? "one layer" : fmt::format("{} layers", layers);
}

SpanParts parts_of(std::chrono::seconds span) {
  using Unit = SpanParts::Unit;
  if (span.count() < 60) return {span.count(), Unit::kSeconds};
  const std::int64_t minutes = span.count() / 60;
  if (minutes < 2 * kHour) return {minutes, Unit::kMinutes};
  if (minutes < 2 * kDay) return {minutes / kHour, Unit::kHours};
  return {minutes / kDay, Unit::kDays};
}

std::string span_text(std::chrono::seconds span) {
  static constexpr std::array<std::string_view, 4> kUnits{"second", "minute", "hour",
                                                          "day"};
  const SpanParts parts = parts_of(span);
  return fmt::format("{} {}{}", parts.count,
                     kUnits.at(static_cast<std::size_t>(parts.unit)),
                     parts.count == 1 ? "" : "s");
}

Instant rounded_down(Instant at) {
  const std::int64_t seconds = at.time_since_epoch().count();
  const std::int64_t step = kFiveMinutes.count();
  const std::int64_t past = ((seconds % step) + step) % step;
  return at - std::chrono::seconds{past};
}

Instant rounded_up(Instant at) {
  return rounded_down(at + kFiveMinutes - std::chrono::seconds{1});
}

std::string sentence(std::string text) {
  if (text.empty()) return text;
  if (text.front() >= 'a' && text.front() <= 'z') {
    text.front() = static_cast<char>(text.front() - 'a' + 'A');
  } else if (begins_with_accent(text)) {
    text[1] = static_cast<char>(text[1] - 32);
  }
  return text;
}

}  // namespace rimeward
