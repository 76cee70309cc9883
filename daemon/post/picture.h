// The picture of a week's highs and lows. No state, no clock.

#pragma once

#include <optional>
#include <string>

#include "daemon/base/week_chart.h"

namespace rimeward {

// A PNG of 720 by 360: of each place a line of the highs and one of the lows with the
// band between them, and dashed the temperature to keep above. Places differ by colour,
// by marks and by dashes. What is not known, or cannot be (beyond 100 °C either way),
// leaves a gap. Nothing when Cairo cannot draw it, for want of memory or because a name
// is not UTF-8.
std::optional<std::string> week_picture(const WeekChart& chart);

}  // namespace rimeward
