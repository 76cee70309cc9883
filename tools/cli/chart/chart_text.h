// A chart on the terminal: plot, time axis, nights, covers and notices under it, and in
// words what they come to. Pure.

#pragma once

#include <string>

#include "daemon/base/zone.h"
#include "tools/cli/chart/chart_answer.h"
#include "tools/cli/screen.h"

namespace rimeward {

// As wide as the screen, at most 200 columns. Curves are told apart by letters, nights by
// shading and by a row of their own; colour only repeats it. REQUIRES: it has readings.
std::string chart_text(const ChartAnswer& answer, const Zone& zone, const Screen& screen);

}  // namespace rimeward
