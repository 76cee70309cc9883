#include "tools/cli/chart/chart_panel.h"

#include <fmt/format.h>

namespace rimeward {

ChartPanel::ChartPanel(std::size_t columns, std::size_t rows)
    : columns_(columns), rows_(rows), cells_(columns * rows) {}

bool ChartPanel::is_free(std::size_t column, std::size_t row) const {
  return column < columns_ && row < rows_ &&
         cells_[row * columns_ + column].character.empty();
}

bool ChartPanel::is_free(std::size_t column, std::size_t row, std::size_t count) const {
  for (std::size_t i = 0; i < count; ++i) {
    if (!is_free(column + i, row)) return false;
  }
  return true;
}

void ChartPanel::put(std::size_t column, std::size_t row, std::string_view character,
                     Ink ink) {
  cells_.at(row * columns_ + column) = {std::string(character), ink};
}

void ChartPanel::fill(std::size_t column, std::size_t row, std::string_view character,
                      Ink ink) {
  if (is_free(column, row)) put(column, row, character, ink);
}

void ChartPanel::write(std::size_t column, std::size_t row, std::string_view text,
                       Ink ink) {
  for (const char c : text)
    put(column++, row, std::string_view(&c, 1), ink);
}

std::string ChartPanel::whole_line(std::size_t row, const Screen& screen) const {
  return text(row, columns_, screen);
}

std::string ChartPanel::line(std::size_t row, const Screen& screen) const {
  const auto is_blank = [&](std::size_t column) {
    const std::string& character = cells_[row * columns_ + column].character;
    return character.empty() || character == " ";
  };
  std::size_t columns = columns_;
  while (columns > 0 && is_blank(columns - 1))
    --columns;
  return text(row, columns, screen);
}

// Neighbours of one colour share its sequence.
std::string ChartPanel::text(std::size_t row, std::size_t columns,
                             const Screen& screen) const {
  std::string result;
  std::string same;
  Ink ink = Ink::kPlain;
  for (std::size_t column = 0; column < columns; ++column) {
    const Cell& cell = cells_[row * columns_ + column];
    if (cell.ink != ink) {
      result += inked(same, ink, screen);
      same.clear();
      ink = cell.ink;
    }
    same += cell.character.empty() ? " " : cell.character;
  }
  return result + inked(same, ink, screen);
}

std::string inked(std::string_view text, Ink ink, const Screen& screen) {
  if (!screen.colour || ink == Ink::kPlain || text.empty()) return std::string(text);
  return fmt::format("\x1b[{}m{}\x1b[0m", static_cast<int>(ink), text);
}

}  // namespace rimeward
