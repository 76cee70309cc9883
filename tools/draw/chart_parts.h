// The parts of a chart's picture, each drawn over what is there already, and the colours
// that they share. No state.

#pragma once

#include "daemon/post/pen.h"
#include "tools/draw/chart.h"
#include "tools/draw/chart_layout.h"

namespace rimeward {

inline constexpr Colour kInk{0.1, 0.1, 0.1};
inline constexpr Colour kLabelInk{0.25, 0.25, 0.25};
inline constexpr Colour kGridInk{0.84, 0.84, 0.84};
inline constexpr Colour kNightShade{0.91, 0.91, 0.94};
inline constexpr Colour kPaper{1, 1, 1};
inline constexpr double kTextSize = 12;

// Nights, the lines across with their labels, and the freezing point.
void draw_frame(Pen& pen, const Chart& chart, const ChartLayout& layout);

void draw_curves(Pen& pen, const Chart& chart, const ChartLayout& layout);

// What the places are to be kept above: lines, which belong under the curves, and their
// labels, where there is room for them beside the curves.
void draw_keep_above(Pen& pen, const Chart& chart, const ChartLayout& layout);
void draw_keep_above_labels(Pen& pen, const Chart& chart, const ChartLayout& layout);

// The places' names beside the ends of their curves.
void draw_names(Pen& pen, const Chart& chart, const ChartLayout& layout);

// A bar for each cover, cut lengthwise into its layers.
void draw_covers(Pen& pen, const Chart& chart, const ChartLayout& layout);

// A letter above the plot for each notice that is listed, a stroke for each other one.
void draw_flags(Pen& pen, const Chart& chart, const ChartLayout& layout);
void draw_notices(Pen& pen, const Chart& chart, const ChartLayout& layout);

// In the column of names: how a line is drawn, and what it is.
void draw_name(Pen& pen, const LineStyle& style, const std::string& name, double y,
               bool with_dash);

}  // namespace rimeward
