// What stands under the plot of a chart, column for column: the time axis, the nights,
// the covers and the notices. Pure.

#pragma once

#include <string>
#include <vector>

#include "tools/cli/chart/chart_screen.h"

namespace rimeward {

std::vector<std::string> axis_lines(const ScreenLayout& layout);

// Rows that have nothing to show are left out.
std::vector<std::string> night_lines(const ScreenLayout& layout);
std::vector<std::string> cover_lines(const ScreenLayout& layout);
std::vector<std::string> notice_lines(const ScreenLayout& layout);

}  // namespace rimeward
