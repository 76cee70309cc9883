#include <algorithm>
#include <cmath>
#include <functional>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include <fmt/format.h>

#include "tools/draw/chart_parts.h"
#include "tools/draw/chart_spots.h"

namespace rimeward {
namespace {

constexpr double kLabelHeight = 15;
constexpr double kMarkRoom = 12;
constexpr double kWidestText = 140;
constexpr std::size_t kMostMarks = 8;

// The lines by what they are to be kept above, the highest first.
using Levels = std::map<double, std::vector<std::size_t>, std::greater<>>;

Levels levels_of(const Chart& chart) {
  Levels levels;
  for (std::size_t i = 0; i < chart.lines.size(); ++i) {
    if (chart.lines[i].keep_above) levels[*chart.lines[i].keep_above].push_back(i);
  }
  return levels;
}

// The first place along the level, above it or below, that is free in all of `occupied`.
std::optional<Box> free_place(double width, double level, const ChartLayout& layout,
                              const std::vector<const Occupied*>& occupied) {
  constexpr double kStep = 24;
  for (double x = ChartLayout::kLeft + 6; x + width < ChartLayout::kRight; x += kStep) {
    for (const double y : {level - kLabelHeight - 2, level + 3}) {
      const Box box{{x, y}, width, kLabelHeight};
      const bool is_free = std::ranges::all_of(
          occupied, [&](const Occupied* one) { return one->is_free(box); });
      if (is_free && y >= layout.top && y + kLabelHeight <= layout.bottom) return box;
    }
  }
  return std::nullopt;
}

// The marks of the lines that share it, and the words.
void draw_label(Pen& pen, const std::string& text, const Box& box,
                const std::vector<std::size_t>& lines) {
  pen.ink(kPaper, 0.8);
  pen.box(box.corner, box.width, box.height);
  double x = box.corner.x + 6;
  for (const std::size_t line : lines) {
    const LineStyle style = line_style(line);
    pen.ink(style.colour);
    pen.mark(style.mark, {x, box.corner.y + kLabelHeight / 2});
    x += kMarkRoom;
  }
  pen.ink(kInk);
  pen.write(text, {x - 2, box.corner.y + kLabelHeight - 3.5});
}

}  // namespace

void draw_keep_above(Pen& pen, const Chart& chart, const ChartLayout& layout) {
  for (const auto& [value, lines] : levels_of(chart)) {
    const double y = layout.y(value);
    pen.ink(line_style(lines.front()).colour);
    pen.line({ChartLayout::kLeft, y}, {ChartLayout::kRight, y}, 1.4, kKeepAboveDash);
  }
}

void draw_keep_above_labels(Pen& pen, const Chart& chart, const ChartLayout& layout) {
  Occupied by_curves(layout);
  for (const Chart::Line& line : chart.lines) {
    for (const Spots& spots : pieces_of(line, layout))
      by_curves.take(spots);
  }
  Occupied by_labels(layout);
  for (auto [value, lines] : levels_of(chart)) {
    lines.resize(std::min(lines.size(), kMostMarks));
    const std::string text =
        pen.fitting(fmt::format("keep above {:g} {}", std::round(value * 10) / 10,
                                drawable(chart.unit)),
                    kWidestText);
    const double width =
        pen.width_of(text) + kMarkRoom * static_cast<double>(lines.size()) + 6;
    // Over a curve rather than not at all, but never over another label.
    auto box = free_place(width, layout.y(value), layout, {&by_labels, &by_curves});
    if (!box) box = free_place(width, layout.y(value), layout, {&by_labels});
    if (!box) continue;
    draw_label(pen, text, *box, lines);
    by_labels.take(*box);
  }
}

}  // namespace rimeward
