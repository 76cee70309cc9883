#include "tools/draw/chart_spots.h"

#include <algorithm>
#include <cmath>

namespace rimeward {
namespace {

constexpr double kSquare = 6;

Instant time_of(const std::vector<Chart::Point>& piece, std::size_t i) {
  const Chart::Point& point = piece[i];
  if (point.low == point.high || piece.size() == 1) return point.at;
  const auto until_next =
      i + 1 < piece.size() ? piece[i + 1].at - point.at : point.at - piece[i - 1].at;
  return point.at + until_next / 2;
}

}  // namespace

std::vector<Spots> pieces_of(const Chart::Line& line, const ChartLayout& layout) {
  std::vector<Spots> pieces;
  for (const auto& piece : line.pieces) {
    Spots spots;
    for (std::size_t i = 0; i < piece.size(); ++i) {
      spots.push_back(
          {layout.x(time_of(piece, i)), layout.y(piece[i].low), layout.y(piece[i].high)});
    }
    if (!spots.empty()) pieces.push_back(std::move(spots));
  }
  return pieces;
}

Occupied::Occupied(const ChartLayout& layout)
    : top_(layout.top),
      columns_(static_cast<std::size_t>(
          std::ceil((ChartLayout::kRight - ChartLayout::kLeft) / kSquare))),
      rows_(static_cast<std::size_t>(std::ceil((layout.bottom - layout.top) / kSquare))),
      taken_(columns_ * rows_, false) {}

// What lies outside the plot is in no square.
Occupied::Squares Occupied::squares_of(const Box& box) const {
  const auto square = [](double pixels, std::size_t count) {
    return static_cast<std::size_t>(
        std::clamp(pixels / kSquare, 0.0, static_cast<double>(count)));
  };
  const double x = box.corner.x - ChartLayout::kLeft;
  const double y = box.corner.y - top_;
  return {square(std::floor(x), columns_), square(x + box.width + kSquare, columns_),
          square(std::floor(y), rows_), square(y + box.height + kSquare, rows_)};
}

void Occupied::take(const Box& box) {
  const Squares squares = squares_of(box);
  for (std::size_t row = squares.from_row; row < squares.to_row; ++row) {
    for (std::size_t column = squares.from_column; column < squares.to_column; ++column)
      taken_[row * columns_ + column] = true;
  }
}

void Occupied::take(const Spots& spots) {
  for (std::size_t i = 0; i < spots.size(); ++i) {
    const Spot& one = spots[i];
    const Spot& next = spots[std::min(i + 1, spots.size() - 1)];
    const double high = std::min(one.high, next.high);
    take({{one.x, high}, next.x - one.x, std::max(one.low, next.low) - high});
  }
}

bool Occupied::is_free(const Box& box) const {
  const Squares squares = squares_of(box);
  for (std::size_t row = squares.from_row; row < squares.to_row; ++row) {
    for (std::size_t column = squares.from_column; column < squares.to_column; ++column) {
      if (taken_[row * columns_ + column]) return false;
    }
  }
  return true;
}

}  // namespace rimeward
