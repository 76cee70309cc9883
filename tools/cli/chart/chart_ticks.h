// Where a chart's time axis is marked: hours, midnights, Mondays, months or years, by the
// garden's clock. Pure.

#pragma once

#include <vector>

#include "daemon/base/zone.h"
#include "tools/draw/chart.h"

namespace rimeward {

// As many as can be told apart over the length of the span, both ends included; in order
// of time. An hour that the clock skips has none; of one that it shows twice the first.
std::vector<Chart::Tick> chart_ticks(const Chart::Span& span, const Zone& zone);

}  // namespace rimeward
