#include <algorithm>
#include <cmath>
#include <cstddef>
#include <ranges>
#include <string>
#include <vector>

#include <fmt/format.h>

#include "daemon/post/plot.h"
#include "tools/draw/chart_parts.h"
#include "tools/draw/chart_spots.h"

namespace rimeward {
namespace {

constexpr double kMarkEvery = 120;
constexpr double kThick = 6;  // a band that is less is drawn as one curve
constexpr double kNameHeight = 16;
constexpr double kNameText = ChartLayout::kNamesAt + 38;

// Whether a line is drawn as two edges, with a band between them: where low and high are
// apart, and further than the line goes from one point to the next. The highs and lows of
// days are so; those of hours go up and down each day, and two edges would only cross.
bool is_band(const std::vector<Spots>& pieces) {
  double thickness = 0;
  double way = 0;
  double count = 0;
  for (const Spots& spots : pieces) {
    for (std::size_t i = 0; i < spots.size(); ++i) {
      thickness += spots[i].low - spots[i].high;
      if (i > 0) way += std::abs(spots[i].middle() - spots[i - 1].middle());
      ++count;
    }
  }
  return thickness > kThick * count && thickness > 2 * way;
}

void fill_band(Pen& pen, const Spots& spots) {
  pen.begin();
  for (const Spot& spot : spots)
    pen.line_to({spot.x, spot.high});
  for (const Spot& spot : spots | std::views::reverse)
    pen.line_to({spot.x, spot.low});
  pen.fill();
}

template <class Height>
void draw_curve(Pen& pen, const Spots& spots, double width, Dash dash, Height height) {
  pen.begin();
  for (const Spot& spot : spots)
    pen.line_to({spot.x, height(spot)});
  pen.stroke(width, dash);
}

void draw_piece(Pen& pen, const Spots& spots, const LineStyle& style, bool as_band) {
  if (spots.size() == 1) {
    const Spot& only = spots.front();
    pen.line({only.x, only.low}, {only.x, only.high}, 2);
    pen.mark(style.mark, {only.x, only.middle()});
  } else if (as_band) {
    draw_curve(pen, spots, 1.2, style.dash, [](const Spot& spot) { return spot.high; });
    draw_curve(pen, spots, 1.2, style.dash, [](const Spot& spot) { return spot.low; });
  } else {
    draw_curve(pen, spots, 1.8, style.dash,
               [](const Spot& spot) { return spot.middle(); });
  }
}

// Now and then, each line's at other times, so that lines which meet can be told apart.
void draw_marks(Pen& pen, const std::vector<Spots>& pieces, MarkShape mark,
                std::size_t index) {
  double next = ChartLayout::kLeft + 24 + 23 * static_cast<double>(index % 5);
  for (const Spot& spot : pieces | std::views::join) {
    if (spot.x < next) continue;
    pen.mark(mark, {spot.x, spot.middle()});
    next += kMarkEvery * (1 + std::floor((spot.x - next) / kMarkEvery));
  }
}

double end_height(const Chart::Line& line, const ChartLayout& layout) {
  const auto pieces = pieces_of(line, layout);
  return pieces.empty() ? layout.bottom : pieces.back().back().middle();
}

}  // namespace

void draw_curves(Pen& pen, const Chart& chart, const ChartLayout& layout) {
  std::vector<std::vector<Spots>> all;
  for (const Chart::Line& line : chart.lines)
    all.push_back(pieces_of(line, layout));
  // A little beyond the plot's edges, for half of a mark lies there.
  pen.clip({ChartLayout::kLeft, layout.top - 7}, ChartLayout::kRight - ChartLayout::kLeft,
           layout.bottom - layout.top + 14);
  // Each kind of thing for all places, so that no band lies over a curve.
  for (std::size_t i = 0; i < all.size(); ++i) {
    pen.ink(line_style(i).colour, is_band(all[i]) ? 0.15 : 0.35);
    for (const Spots& spots : all[i])
      fill_band(pen, spots);
  }
  for (std::size_t i = 0; i < all.size(); ++i) {
    const LineStyle style = line_style(i);
    pen.ink(style.colour);
    for (const Spots& spots : all[i])
      draw_piece(pen, spots, style, is_band(all[i]));
    draw_marks(pen, all[i], style.mark, i);
  }
  pen.unclip();
  if (std::ranges::all_of(all, &std::vector<Spots>::empty)) {
    pen.ink(kInk);
    pen.write("no readings in this time",
              {(ChartLayout::kLeft + ChartLayout::kRight) / 2, layout.top + 40},
              Align::kMiddle);
  }
}

void draw_name(Pen& pen, const LineStyle& style, const std::string& name, double y,
               bool with_dash) {
  pen.ink(style.colour);
  if (with_dash) {
    pen.line({ChartLayout::kNamesAt, y}, {ChartLayout::kNamesAt + 32, y}, 1.8,
             style.dash);
  }
  pen.mark(style.mark, {ChartLayout::kNamesAt + 16, y});
  pen.ink(kInk);
  pen.write(pen.fitting(name, ChartLayout::kWidth - kNameText - 6), {kNameText, y + 4});
}

void draw_names(Pen& pen, const Chart& chart, const ChartLayout& layout) {
  std::vector<double> ends;
  for (const Chart::Line& line : chart.lines)
    ends.push_back(end_height(line, layout));
  const double last = layout.bottom - 4;
  const auto names = placed_apart(ends, layout.top + 4, last, kNameHeight);
  const bool all_fit = names.empty() || names.back().at <= last;
  for (std::size_t i = 0; i < names.size(); ++i) {
    const double y = names[i].at;
    // The last row is for how many there are besides.
    if (!all_fit && y + kNameHeight > last) {
      pen.write(fmt::format("and {} more", names.size() - i), {kNameText, y + 4});
      return;
    }
    const Chart::Line& line = chart.lines[names[i].index];
    const std::string place = drawable(line.place);
    draw_name(pen, line_style(names[i].index),
              line.pieces.empty() ? place + ": no readings" : place, y, true);
  }
}

}  // namespace rimeward
