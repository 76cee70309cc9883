#include "tools/draw/chart_layout.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "daemon/post/paragraphs.h"
#include "daemon/post/plot.h"
#include "sensors/utf8.h"

namespace rimeward {
namespace {

constexpr double kPlotHeight = 376;
constexpr double kTitleHeight = 56;  // with the unit
constexpr double kFlagsHeight = 12;
constexpr double kLabelHeight = 17;
constexpr double kGap = 12;  // so that the last label of the plot has room
constexpr int kMostSteps = 9;
constexpr int kFewestSteps = 4;
constexpr double kHair = 1e-9;  // of a step: 2.91 / 0.01 need not be 291

struct Range {
  double low = std::numeric_limits<double>::infinity();
  double high = -std::numeric_limits<double>::infinity();

  void widen(double value) {
    low = std::min(low, value);
    high = std::max(high, value);
  }
};

Range range_of(const Chart& chart) {
  Range range;
  for (const Chart::Line& line : chart.lines) {
    if (line.keep_above) range.widen(*line.keep_above);
    for (const auto& piece : line.pieces) {
      for (const Chart::Point& point : piece) {
        range.widen(point.low);
        range.widen(point.high);
      }
    }
  }
  return range.low <= range.high ? range : Range{.low = 0, .high = 10};
}

}  // namespace

ChartLayout::ChartLayout(const Chart& chart) : span(chart.span) {
  const Range range = range_of(chart);
  // A sensor's last digit should not fill the plot; a battery's volts are hundredths.
  step = round_step(range.high - range.low, chart.unit == "V" ? 0.01 : 0.5, kMostSteps);
  low = step * std::floor(range.low / step + kHair);
  high = step * std::ceil(range.high / step - kHair);
  const double missing = kFewestSteps - std::round((high - low) / step);
  if (missing > 0) {
    // On both sides, but not below nought, where little or nothing is, nor beyond all.
    low -= std::floor(missing / 2) * step;
    if (range.low >= 0) low = std::max(low, 0.0);
    if (chart.unit == "%" && range.high <= 100) {
      low = std::min(low, 100 - kFewestSteps * step);
    }
    high = low + kFewestSteps * step;
  }

  for (std::size_t i = 0; i < chart.lines.size(); ++i) {
    if (!chart.lines[i].covers.empty()) covered.push_back(i);
  }
  // One row more says how many there are besides.
  const std::size_t rows = std::min(covered.size(), kMostCovered + 1);
  told = std::min(chart.marks.size(), kMostTold);
  const bool has_hours =
      std::ranges::any_of(chart.ticks, [](const auto& tick) { return !tick.is_day; });

  top = kTitleHeight + (told > 0 ? kFlagsHeight : 0);
  bottom = top + kPlotHeight;
  covers_top = bottom + (rows > 0 ? kGap : 0);
  covers_bottom = covers_top + kRowHeight * static_cast<double>(rows);
  hours_at = covers_bottom + kLabelHeight;
  dates_at = has_hours ? hours_at + kLabelHeight : hours_at;
  list_at = dates_at + 30;
  const double list =
      kRowHeight * static_cast<double>(told + (told < chart.marks.size()));
  height = static_cast<int>(std::ceil(told > 0 ? list_at + list : dates_at + 14));
}

double ChartLayout::x(Instant at) const {
  const auto share = std::chrono::duration<double>(at - span.from) /
                     std::chrono::duration<double>(span.to - span.from);
  return kLeft + std::clamp(share, -1.0, 2.0) * (kRight - kLeft);
}

double ChartLayout::y(double value) const {
  return bottom - (value - low) / (high - low) * (bottom - top);
}

std::string drawable(std::string_view text) {
  std::string drawn;
  while (!text.empty()) {
    const auto character = first_character(text);
    const std::size_t length = character ? character->length : 1;
    drawn += character ? text.substr(0, length) : "\ufffd";
    text.remove_prefix(length);
  }
  return one_line(drawn);
}

}  // namespace rimeward
