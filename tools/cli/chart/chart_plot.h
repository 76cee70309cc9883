// The plot of a chart on the terminal: curves, the nights behind them, keep-above and
// freezing. Pure.

#pragma once

#include <string>
#include <vector>

#include "tools/cli/chart/chart_panel.h"
#include "tools/cli/chart/chart_screen.h"

namespace rimeward {

// The lines of the plot, from the top: scale, axis, plot, names of the curves.
std::vector<std::string> plot_lines(const ScreenLayout& layout);

// The colour of a place's curve and of all that is about it; plain for a single place.
Ink ink_of(const ScreenLayout& layout, std::size_t number);

}  // namespace rimeward
