// A Chart as JSON: what the terminal hands to rimeward-draw. Pure; no state.
//
// Times are whole seconds since 1970 in UTC, a point is [at, low, high], numbers are in
// the chart's own unit. What is written reads back equal, but for text that is not UTF-8,
// whose bad bytes become U+FFFD, and for numbers that are not finite or charts beyond the
// limits below, which are refused when they are read.

#pragma once

#include <cstddef>
#include <string>
#include <string_view>

#include "sensors/result.h"
#include "tools/draw/chart.h"

namespace rimeward {

// Far beyond what can be seen in a picture; they keep a faulty chart from taking the
// machine's memory.
struct ChartLimits {
  static constexpr std::size_t kLines = 100;
  static constexpr std::size_t kPoints = 100'000;  // of all lines
  static constexpr std::size_t kCovers = 5'000;    // of a line
  static constexpr std::size_t kTicks = 5'000;
  static constexpr std::size_t kNights = 5'000;
  static constexpr std::size_t kMarks = 5'000;
  static constexpr std::size_t kTextBytes = 2'000;
  static constexpr int kLayers = 99;
  static constexpr double kValue = 1e9;
};

std::string chart_json(const Chart& chart);

// Refused, with the path of the first member at fault ("lines[0].pieces[2]"): what is no
// JSON; a member that is missing, of another kind or beyond the limits; a span that ends
// before it begins, or for the whole chart one without length; an empty piece, a point
// whose high is below its low; points, ticks or marks that are not in order of time; a
// chart without lines. Members that are not the chart's are passed over.
Result<Chart> chart_from_json(std::string_view text);

}  // namespace rimeward
