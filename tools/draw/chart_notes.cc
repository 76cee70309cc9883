#include <algorithm>
#include <cstddef>
#include <string>
#include <vector>

#include <fmt/format.h>

#include "daemon/post/plot.h"
#include "tools/draw/chart_parts.h"

namespace rimeward {
namespace {

constexpr double kBarHeight = 12;
constexpr int kMostStrips = 4;
constexpr double kFlagWidth = 16;
constexpr double kFlagHeight = 14;

std::string layers_text(int layers) {
  return layers == 1 ? "1 layer" : fmt::format("{} layers", layers);
}

// `y` is the top of the bar.
void draw_cover(Pen& pen, const Chart::Cover& cover, const Colour& colour, double y,
                const ChartLayout& layout) {
  const double from = std::max(layout.x(cover.span.from), ChartLayout::kLeft);
  const double to = std::min(layout.x(cover.span.to), ChartLayout::kRight);
  if (from > to) return;
  const double width = std::max(to - from, 1.0);
  const int strips = std::clamp(cover.layers, 1, kMostStrips);
  const double pitch = (kBarHeight + 2) / strips;
  pen.ink(colour);
  for (int i = 0; i < strips; ++i)
    pen.box({from, y + i * pitch}, width, pitch - 2);
  const std::string text = layers_text(cover.layers);
  const double text_width = pen.width_of(text);
  if (width < text_width + 16) return;
  const double middle = from + width / 2;
  pen.ink(kPaper);
  pen.box({middle - text_width / 2 - 4, y - 1}, text_width + 8, kBarHeight + 2);
  pen.ink(kInk);
  pen.write(text, {middle, y + kBarHeight - 2}, Align::kMiddle);
}

// The notices that are listed are the last ones.
std::size_t first_told(const Chart& chart, const ChartLayout& layout) {
  return chart.marks.size() - layout.told;
}

std::string letter(std::size_t index) {
  return std::string(1, static_cast<char>('A' + index));
}

// A letter in a frame, about its middle.
void draw_letter(Pen& pen, std::size_t index, Pixel at) {
  const double left = at.x - kFlagWidth / 2;
  const double top = at.y - kFlagHeight / 2;
  pen.ink(kInk);
  pen.box({left, top}, kFlagWidth, kFlagHeight);
  pen.ink(kPaper);
  pen.box({left + 1, top + 1}, kFlagWidth - 2, kFlagHeight - 2);
  pen.ink(kInk);
  pen.write(letter(index), {at.x, at.y + 4.5}, Align::kMiddle);
}

}  // namespace

void draw_covers(Pen& pen, const Chart& chart, const ChartLayout& layout) {
  if (layout.covered.empty()) return;
  double y = layout.covers_top;
  pen.ink(kLabelInk);
  pen.write("covers", {ChartLayout::kLeft - 8, y + kBarHeight - 2}, Align::kEnd);
  for (std::size_t i = 0; i < layout.covered.size(); ++i) {
    if (i == ChartLayout::kMostCovered) {
      pen.ink(kLabelInk);
      pen.write(fmt::format("and {} more places", layout.covered.size() - i),
                {ChartLayout::kNamesAt, y + kBarHeight - 2});
      return;
    }
    const Chart::Line& line = chart.lines[layout.covered[i]];
    const LineStyle style = line_style(layout.covered[i]);
    for (const Chart::Cover& cover : line.covers)
      draw_cover(pen, cover, style.colour, y, layout);
    draw_name(pen, style, drawable(line.place), y + kBarHeight / 2, false);
    y += ChartLayout::kRowHeight;
  }
}

void draw_flags(Pen& pen, const Chart& chart, const ChartLayout& layout) {
  const std::size_t first = first_told(chart, layout);
  const auto x = [&](const Chart::Mark& mark) {
    return std::clamp(layout.x(mark.at), ChartLayout::kLeft, ChartLayout::kRight);
  };
  pen.ink(kInk);
  for (std::size_t i = 0; i < first; ++i)
    pen.line({x(chart.marks[i]), layout.top - 5}, {x(chart.marks[i]), layout.top}, 1.5);
  std::vector<double> wanted;
  for (std::size_t i = first; i < chart.marks.size(); ++i)
    wanted.push_back(x(chart.marks[i]));
  const double row = layout.top - 18;
  for (const Placed& flag : placed_apart(wanted, ChartLayout::kLeft + kFlagWidth / 2,
                                         ChartLayout::kRight, kFlagWidth + 2)) {
    const double at = wanted[flag.index];
    pen.ink(kInk);
    pen.line({flag.at, row}, {at, layout.top}, 1);
    pen.line({at, layout.top}, {at, layout.bottom}, 0.8, {1, 4});
    draw_letter(pen, flag.index, {flag.at, row});
  }
}

void draw_notices(Pen& pen, const Chart& chart, const ChartLayout& layout) {
  const std::size_t first = first_told(chart, layout);
  double y = layout.list_at;
  for (std::size_t i = first; i < chart.marks.size(); ++i) {
    draw_letter(pen, i - first, {ChartLayout::kLeft, y - 4});
    const double left = ChartLayout::kLeft + 16;
    pen.write(pen.fitting(drawable(chart.marks[i].text), ChartLayout::kWidth - left - 12),
              {left, y});
    y += ChartLayout::kRowHeight;
  }
  if (first > 0) {
    pen.ink(kLabelInk);
    pen.write(fmt::format("and {} more before these", first),
              {ChartLayout::kLeft + 16, y});
  }
}

}  // namespace rimeward
