#include "tools/cli/table.h"

#include <algorithm>
#include <cassert>
#include <numeric>
#include <string_view>
#include <utility>

namespace rimeward {
namespace {

constexpr std::size_t kGap = 2;
// A longer word is broken rather than let the whole table fall apart.
constexpr std::size_t kLongestWord = 20;

// A table whose texts are printable and whose empty columns are gone.
struct Grid {
  std::vector<Column> columns;
  std::vector<std::vector<Cell>> rows;
  std::vector<std::size_t> widths;
};

Grid grid_of(const std::vector<Column>& columns,
             const std::vector<std::vector<Cell>>& rows, const Screen& screen) {
  Grid grid;
  grid.rows.resize(rows.size());
  for (std::size_t c = 0; c < columns.size(); ++c) {
    const bool empty =
        std::ranges::all_of(rows, [c](const auto& row) { return row[c].text.empty(); });
    if (empty && !rows.empty()) continue;
    grid.columns.push_back(columns[c]);
    std::string& heading = grid.columns.back().heading;
    heading = printable(heading, screen);
    std::size_t width = display_width(heading);
    for (std::size_t r = 0; r < rows.size(); ++r) {
      grid.rows[r].push_back({printable(rows[r][c].text, screen), rows[r][c].style});
      width = std::max(width, display_width(grid.rows[r].back().text));
    }
    grid.widths.push_back(width);
  }
  return grid;
}

std::size_t longest_word(std::string_view text) {
  std::size_t longest = 0;
  while (!text.empty()) {
    const std::size_t end = std::min(text.find(' '), text.size());
    longest = std::max(longest, display_width(text.substr(0, end)));
    text.remove_prefix(std::min(end + 1, text.size()));
  }
  return std::min(longest, kLongestWord);
}

std::size_t width_of(const Grid& grid) {
  const std::size_t gaps = grid.widths.empty() ? 0 : kGap * (grid.widths.size() - 1);
  return std::accumulate(grid.widths.begin(), grid.widths.end(), gaps);
}

void fit(Grid& grid, std::size_t width) {
  const auto found = std::ranges::find(grid.columns, true, &Column::wraps);
  if (found == grid.columns.end()) return;
  const auto wrapping = static_cast<std::size_t>(found - grid.columns.begin());
  std::size_t least = longest_word(grid.columns[wrapping].heading);
  for (const std::vector<Cell>& row : grid.rows) {
    least = std::max(least, longest_word(row[wrapping].text));
  }
  const std::size_t others = width_of(grid) - grid.widths[wrapping];
  const std::size_t left = width > others ? width - others : 0;
  grid.widths[wrapping] = std::min(grid.widths[wrapping], std::max(left, least));
}

std::string padded(const Cell& cell, const Column& column, std::size_t width,
                   const Screen& screen) {
  const std::size_t used = display_width(cell.text);
  const std::string space(width > used ? width - used : 0, ' ');
  const std::string text = styled(cell.text, cell.style, screen);
  return column.align == Column::Align::kRight ? space + text : text + space;
}

// One row of cells; a wrapped cell makes it several lines.
std::string lines_of(const Grid& grid, const std::vector<Cell>& row,
                     const Screen& screen) {
  std::vector<std::vector<std::string>> cells;
  std::size_t height = 1;
  for (std::size_t c = 0; c < row.size(); ++c) {
    cells.push_back(grid.columns[c].wraps ? wrapped(row[c].text, grid.widths[c])
                                          : std::vector{row[c].text});
    height = std::max(height, cells.back().size());
  }
  std::string result;
  for (std::size_t line = 0; line < height; ++line) {
    std::string whole;
    for (std::size_t c = 0; c < row.size(); ++c) {
      const Cell cell{line < cells[c].size() ? cells[c][line] : "", row[c].style};
      if (c > 0) whole.append(kGap, ' ');
      whole += padded(cell, grid.columns[c], grid.widths[c], screen);
    }
    whole.erase(whole.find_last_not_of(' ') + 1);
    result += whole + '\n';
  }
  return result;
}

// "North frame", then "air °C 4.6; heard 18:04" on indented lines.
std::string paragraphs_of(const Grid& grid, const Screen& screen) {
  std::string text;
  for (const std::vector<Cell>& row : grid.rows) {
    std::string facts;
    for (std::size_t c = 1; c < row.size(); ++c) {
      if (row[c].text.empty()) continue;
      if (!facts.empty()) facts += "; ";
      const std::string& heading = grid.columns[c].heading;
      facts += heading.empty() ? row[c].text : heading + " " + row[c].text;
    }
    text += styled(paragraphs(row.front().text, 0, screen), row.front().style, screen);
    text += paragraphs(facts, kGap, screen);
  }
  return text;
}

}  // namespace

Table::Table(std::vector<Column> columns) : columns_(std::move(columns)) {}

void Table::add_row(std::vector<Cell> cells) {
  assert(cells.size() == columns_.size());
  rows_.push_back(std::move(cells));
}

std::string Table::text(const Screen& screen) const {
  Grid grid = grid_of(columns_, rows_, screen);
  fit(grid, screen.width);
  if (width_of(grid) > screen.width) return paragraphs_of(grid, screen);
  std::vector<Cell> headings;
  headings.reserve(grid.columns.size());
  for (const Column& column : grid.columns) {
    headings.push_back({column.heading, Style::kHeading});
  }
  const bool headed = std::ranges::any_of(
      headings, [](const Cell& heading) { return !heading.text.empty(); });
  std::string result = headed ? lines_of(grid, headings, screen) : "";
  for (const std::vector<Cell>& row : grid.rows)
    result += lines_of(grid, row, screen);
  return result;
}

std::size_t Table::least_width(const Screen& screen) const {
  Grid grid = grid_of(columns_, rows_, screen);
  fit(grid, 0);
  return width_of(grid);
}

}  // namespace rimeward
