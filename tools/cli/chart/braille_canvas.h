// Dots on the terminal: two across and four down to a cell. Pure.
//
// Numbering of the dots and their bits: The Unicode Standard, Braille Patterns (U+2800 to
// U+28FF): dots 1, 2, 3, 7 down the left side and 4, 5, 6, 8 down the right; dot n is
// bit n - 1 of what is added to U+2800.

#pragma once

#include <cstddef>
#include <cstdint>
#include <string>
#include <vector>

namespace rimeward {

using BrailleDots = std::uint8_t;  // dot n is bit n - 1; 0: none

class BrailleCanvas {
 public:
  static constexpr std::size_t kAcross = 2;  // dots of a cell
  static constexpr std::size_t kDown = 4;

  // In cells.
  BrailleCanvas(std::size_t columns, std::size_t rows);

  std::size_t columns() const { return columns_; }
  std::size_t rows() const { return rows_; }

  // Dots are counted from the left and from the top; those off the canvas are passed
  // over.
  void set(int x, int y);
  // Both ends included, without a hole: neighbouring dots touch at least by a corner.
  void line(int from_x, int from_y, int to_x, int to_y);

  // REQUIRES: the cell is on the canvas.
  BrailleDots dots(std::size_t column, std::size_t row) const;

 private:
  std::size_t columns_;
  std::size_t rows_;
  std::vector<BrailleDots> cells_;  // row by row
};

// The character of these dots, in UTF-8; of none a space, which every font has.
std::string braille_character(BrailleDots dots);

// What comes nearest to them in ASCII: one of ' . - | and space.
char ascii_character(BrailleDots dots);

}  // namespace rimeward
