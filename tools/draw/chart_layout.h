// Where everything in a chart's picture stands, in pixels. Pure.

#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

#include "tools/draw/chart.h"

namespace rimeward {

struct ChartLayout {
  static constexpr int kWidth = 960;
  static constexpr double kLeft = 64;
  static constexpr double kRight = 752;  // the names of the places stand right of it
  static constexpr double kNamesAt = kRight + 12;
  static constexpr double kRowHeight = 18;  // of a cover, of a notice in the list
  static constexpr std::size_t kMostCovered = 10;
  static constexpr std::size_t kMostTold = 12;  // a letter each

  explicit ChartLayout(const Chart& chart);

  // What is far outside the chart's span is kept near it: nothing is seen of it anyway.
  double x(Instant at) const;
  double y(double value) const;

  double top;     // of the plot
  double bottom;  // of the plot
  double covers_top;
  double covers_bottom;  // `bottom` where there are no covers
  double dates_at;       // the baselines of the ticks' labels
  double hours_at;
  double list_at;  // the baseline of the first notice
  int height;      // of the picture

  // The values at the plot's edges, multiples of `step`.
  double low;
  double high;
  double step;

  std::vector<std::size_t> covered;  // the lines with covers, all of them
  std::size_t told;                  // how many notices are listed, the last ones
  Chart::Span span;
};

// `text` on one line and in UTF-8, whatever was in it; bad bytes become U+FFFD.
std::string drawable(std::string_view text);

}  // namespace rimeward
