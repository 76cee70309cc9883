#include "tools/cli/chart/braille_canvas.h"

#include <array>
#include <cassert>
#include <cstdlib>

namespace rimeward {
namespace {

constexpr std::array<std::array<BrailleDots, BrailleCanvas::kAcross>,
                     BrailleCanvas::kDown>
    kBits{{{0x01, 0x08}, {0x02, 0x10}, {0x04, 0x20}, {0x40, 0x80}}};

bool has_row(BrailleDots dots, std::size_t row) {
  return (dots & (kBits.at(row)[0] | kBits.at(row)[1])) != 0;
}

}  // namespace

BrailleCanvas::BrailleCanvas(std::size_t columns, std::size_t rows)
    : columns_(columns), rows_(rows), cells_(columns * rows) {}

void BrailleCanvas::set(int x, int y) {
  if (x < 0 || y < 0) return;
  const auto across = static_cast<std::size_t>(x);
  const auto down = static_cast<std::size_t>(y);
  if (across >= columns_ * kAcross || down >= rows_ * kDown) return;
  BrailleDots& cell = cells_[down / kDown * columns_ + across / kAcross];
  cell = static_cast<BrailleDots>(cell | kBits.at(down % kDown).at(across % kAcross));
}

// Bresenham's line (IBM Systems Journal 4, 1965), in the form for all directions; from
// memory.
void BrailleCanvas::line(int from_x, int from_y, int to_x, int to_y) {
  const int width = std::abs(to_x - from_x);
  const int height = -std::abs(to_y - from_y);
  const int step_x = from_x < to_x ? 1 : -1;
  const int step_y = from_y < to_y ? 1 : -1;
  int error = width + height;
  int x = from_x;
  int y = from_y;
  while (true) {
    set(x, y);
    if (x == to_x && y == to_y) return;
    const int twice = 2 * error;
    if (twice >= height) {
      error += height;
      x += step_x;
    }
    if (twice <= width) {
      error += width;
      y += step_y;
    }
  }
}

BrailleDots BrailleCanvas::dots(std::size_t column, std::size_t row) const {
  assert(column < columns_ && row < rows_);
  return cells_[row * columns_ + column];
}

std::string braille_character(BrailleDots dots) {
  if (dots == 0) return " ";
  // U+2800 is E2 A0 80 in UTF-8 (RFC 3629): six bits in each of the last two bytes.
  return {static_cast<char>(0xE2), static_cast<char>(0xA0 | (dots >> 6)),
          static_cast<char>(0x80 | (dots & 0x3F))};
}

char ascii_character(BrailleDots dots) {
  if (dots == 0) return ' ';
  const bool high = has_row(dots, 0);
  const bool low = has_row(dots, 3);
  const bool middle = has_row(dots, 1) || has_row(dots, 2);
  if (high && low) return '|';
  if (high) return '\'';
  return low ? '.' : (middle ? '-' : ' ');
}

}  // namespace rimeward
