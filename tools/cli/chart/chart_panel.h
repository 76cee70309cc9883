// A rectangle of characters on the terminal, each with its colour. Pure.

#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

#include "tools/cli/screen.h"

namespace rimeward {

// By the numbers of ECMA-48, select graphic rendition.
enum class Ink {
  kPlain = 0,
  kBold = 1,
  kFaint = 2,
  kRed = 31,
  kGreen = 32,
  kYellow = 33,
  kBlue = 34,
  kMagenta = 35,
  kCyan = 36
};

class ChartPanel {
 public:
  ChartPanel(std::size_t columns, std::size_t rows);

  std::size_t columns() const { return columns_; }
  std::size_t rows() const { return rows_; }
  // False off the panel, too.
  bool is_free(std::size_t column, std::size_t row) const;
  // So many free ones beside each other, the first at `column`.
  bool is_free(std::size_t column, std::size_t row, std::size_t count) const;

  // One character of one column. REQUIRES: on the panel.
  void put(std::size_t column, std::size_t row, std::string_view character, Ink ink);
  // The same, where nothing stands yet.
  void fill(std::size_t column, std::size_t row, std::string_view character, Ink ink);
  // ASCII, a column each. REQUIRES: on the panel.
  void write(std::size_t column, std::size_t row, std::string_view text, Ink ink);

  // All columns, or without the blanks at the end; in colour where the screen has it.
  std::string whole_line(std::size_t row, const Screen& screen) const;
  std::string line(std::size_t row, const Screen& screen) const;

 private:
  struct Cell {
    std::string character;  // empty: free
    Ink ink = Ink::kPlain;
  };
  std::string text(std::size_t row, std::size_t columns, const Screen& screen) const;

  std::size_t columns_;
  std::size_t rows_;
  std::vector<Cell> cells_;  // row by row
};

std::string inked(std::string_view text, Ink ink, const Screen& screen);

}  // namespace rimeward
