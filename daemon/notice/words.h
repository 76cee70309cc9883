// Numbers, spans and times as people say them, in English and the garden's unit: what the
// terminal and the log show. A notice says them by its Wording (daemon/notice/wording.h).
// Pure.

#pragma once

#include <chrono>
#include <cstdint>
#include <string>

#include "daemon/base/garden.h"
#include "daemon/base/zone.h"
#include "sensors/units.h"

namespace rimeward {

// "-1.3 °C", or "29.7 °F". Never "-0.0".
std::string text_of(Celsius temperature, TemperatureUnit unit);
// The same in whole degrees: "-1 °C".
std::string whole_text_of(Celsius temperature, TemperatureUnit unit);
// A difference: "1.2 °C" or "2.2 °F".
std::string text_of(Kelvins difference, TemperatureUnit unit);
// "72 %"; odds that are not certain are never shown as 0 % or 100 %.
std::string text_of(Odds odds);
// "one layer", "2 layers".
std::string layers_text(int layers);
// A span as people say it: in the largest unit of which it has two, or in seconds;
// rounded down.
struct SpanParts {
  enum class Unit { kSeconds, kMinutes, kHours, kDays };
  std::int64_t count = 0;
  Unit unit = Unit::kSeconds;
};
SpanParts parts_of(std::chrono::seconds span);
// The same in words: "20 seconds", "40 minutes", "3 hours", "2 days".
std::string span_text(std::chrono::seconds span);

// To whole five minutes, as people give times.
Instant rounded_down(Instant at);
Instant rounded_up(Instant at);

// The first letter made a capital.
std::string sentence(std::string text);

}  // namespace rimeward
