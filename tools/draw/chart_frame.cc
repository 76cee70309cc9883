#include <algorithm>
#include <cmath>
#include <optional>
#include <string>

#include <fmt/format.h>

#include "tools/draw/chart_parts.h"

namespace rimeward {
namespace {

constexpr double kRoom = 8;  // between two labels, or two lines without one
constexpr double kWidestTick = 90;

// Pixels from whole to half: a line of one pixel is sharp there.
double sharp(double at) {
  return std::round(at) + 0.5;
}

// Nights too narrow to be seen one by one would lie over a year like a veil.
void draw_nights(Pen& pen, const Chart& chart, const ChartLayout& layout) {
  double wide = 0;
  for (const Chart::Span& night : chart.nights)
    wide += layout.x(night.to) - layout.x(night.from);
  if (wide < 2 * static_cast<double>(chart.nights.size())) return;
  pen.ink(kNightShade);
  for (const Chart::Span& night : chart.nights) {
    const double from = std::max(layout.x(night.from), ChartLayout::kLeft);
    const double to = std::min(layout.x(night.to), ChartLayout::kRight);
    if (from < to)
      pen.box({from, layout.top}, to - from, layout.covers_bottom - layout.top);
  }
}

// Where the unit has one; the chart's numbers are in that unit.
std::optional<double> freezing_point(const Chart& chart) {
  if (chart.unit == "°C") return 0;
  if (chart.unit == "°F") return 32;
  return std::nullopt;
}

void draw_level(Pen& pen, const ChartLayout& layout, double value, const Colour& colour,
                double width) {
  const double y = sharp(layout.y(value));
  pen.ink(colour);
  pen.line({ChartLayout::kLeft, y}, {ChartLayout::kRight, y}, width);
  const int decimals =
      std::max(0, static_cast<int>(std::ceil(-std::log10(layout.step) - 1e-9)));
  pen.ink(kLabelInk);
  pen.write(pen.fitting(fmt::format("{:.{}f}", value, decimals), ChartLayout::kLeft - 12),
            {ChartLayout::kLeft - 8, y + 4}, Align::kEnd);
}

void draw_levels(Pen& pen, const Chart& chart, const ChartLayout& layout) {
  const auto freezing = freezing_point(chart);
  const bool freezes = freezing && *freezing >= layout.low && *freezing <= layout.high;
  const double steps = std::round((layout.high - layout.low) / layout.step);
  for (double i = 0; i <= steps; ++i) {
    // Counted in steps, so that nought is nought; and never -0.
    const double value = (std::round(layout.low / layout.step) + i) * layout.step + 0.0;
    const bool covered =
        freezes && std::abs(layout.y(value) - layout.y(*freezing)) < kTextSize;
    if (!covered) draw_level(pen, layout, value, kGridInk, 1);
  }
  if (freezes) draw_level(pen, layout, *freezing, {0.35, 0.35, 0.35}, 1.5);
  pen.write(pen.fitting(drawable(chart.unit), ChartLayout::kLeft - 12),
            {ChartLayout::kLeft - 8, layout.top - 14}, Align::kEnd);
}

// The hours, or the dates: as many of the labels as there is room for, and a line for
// each, or for all where they are not too close.
void draw_ticks(Pen& pen, const Chart& chart, const ChartLayout& layout, bool days) {
  double free_from = 0;
  double last_line = -kRoom;
  for (const Chart::Tick& tick : chart.ticks) {
    if (tick.is_day != days || tick.at < chart.span.from || tick.at > chart.span.to) {
      continue;
    }
    const double x = sharp(layout.x(tick.at));
    const std::string label = pen.fitting(drawable(tick.label), kWidestTick);
    const double half = pen.width_of(label) / 2;
    const bool has_room = x - half >= free_from;
    if (!has_room && x - last_line < kRoom) continue;
    pen.ink(days && has_room ? Colour{0.62, 0.62, 0.62} : kGridInk);
    pen.line({x, layout.top}, {x, layout.covers_bottom + 4}, 1);
    last_line = x;
    if (!has_room) continue;
    pen.ink(kLabelInk);
    pen.write(label, {x, days ? layout.dates_at : layout.hours_at}, Align::kMiddle);
    free_from = x + half + kRoom;
  }
}

}  // namespace

void draw_frame(Pen& pen, const Chart& chart, const ChartLayout& layout) {
  draw_nights(pen, chart, layout);
  pen.ink(kGridInk);
  for (const double x : {sharp(ChartLayout::kLeft), sharp(ChartLayout::kRight)})
    pen.line({x, layout.top}, {x, layout.covers_bottom}, 1);
  draw_ticks(pen, chart, layout, /*days=*/false);
  draw_levels(pen, chart, layout);
  draw_ticks(pen, chart, layout, /*days=*/true);
}

}  // namespace rimeward
