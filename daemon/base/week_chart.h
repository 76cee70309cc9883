// A week's highs and lows, as the Sunday letter shows them. Plain values.

#pragma once

#include <optional>
#include <string>
#include <vector>

#include "sensors/units.h"

namespace rimeward {

struct WeekChart {
  struct Line {
    std::string place;  // its name
    // One a day, as `days`; absent: not known.
    std::vector<std::optional<Celsius>> lows{};
    std::vector<std::optional<Celsius>> highs{};
    std::optional<Celsius> keep_above{};
    bool operator==(const Line&) const = default;
  };
  std::string title;
  std::vector<std::string> days;  // "Mon", oldest first
  std::vector<Line> lines;
  bool in_fahrenheit = false;  // the scale to draw
  bool operator==(const WeekChart&) const = default;
};

}  // namespace rimeward
