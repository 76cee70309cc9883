// A chart's points in pixels, and where in the plot there is room for a label. Pure.

#pragma once

#include <cstddef>
#include <vector>

#include "daemon/post/pen.h"
#include "tools/draw/chart.h"
#include "tools/draw/chart_layout.h"

namespace rimeward {

// `low` is below `high` in the picture, and so the larger number.
struct Spot {
  double x;
  double low;
  double high;
  double middle() const { return (low + high) / 2; }
};
using Spots = std::vector<Spot>;

// A line's pieces, empty ones left out. What came of several readings stands in the
// middle of their time, one reading at its own.
std::vector<Spots> pieces_of(const Chart::Line& line, const ChartLayout& layout);

// Corner, width and height.
struct Box {
  Pixel corner;
  double width;
  double height;
};

// Which parts of the plot are drawn on, roughly: in squares of a few pixels.
class Occupied {
 public:
  explicit Occupied(const ChartLayout& layout);

  void take(const Box& box);
  void take(const Spots& spots);  // and what lies between them
  bool is_free(const Box& box) const;

 private:
  struct Squares {
    std::size_t from_column, to_column;  // the last one is not counted, as of the rows
    std::size_t from_row, to_row;
  };
  Squares squares_of(const Box& box) const;

  double top_;
  std::size_t columns_;
  std::size_t rows_;
  std::vector<bool> taken_;  // row by row
};

}  // namespace rimeward
