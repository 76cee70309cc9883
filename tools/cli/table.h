// Columns on the terminal: the only file that lays them out. Pure.

#pragma once

#include <string>
#include <vector>

#include "tools/cli/screen.h"

namespace rimeward {

struct Cell {
  std::string text;  // made printable by the table
  Style style = Style::kPlain;
};

struct Column {
  enum class Align { kLeft, kRight };
  std::string heading;  // says the unit
  Align align = Align::kLeft;
  // At most one column of a table: it takes the width that the others leave and wraps.
  bool wraps = false;
};

class Table {
 public:
  explicit Table(std::vector<Column> columns);

  // REQUIRES: as many cells as there are columns.
  void add_row(std::vector<Cell> cells);

  // Headings first, two spaces between columns, no space at the end of a line. A column
  // that is empty in every row is left out. Only the column that wraps gives way, down to
  // its longest word: a cut number is a wrong number. Where that does not do, each row
  // becomes a paragraph that names its columns.
  std::string text(const Screen& screen) const;

  // The narrowest screen on which text() is a table and no paragraphs.
  std::size_t least_width(const Screen& screen) const;

 private:
  std::vector<Column> columns_;
  std::vector<std::vector<Cell>> rows_;
};

}  // namespace rimeward
