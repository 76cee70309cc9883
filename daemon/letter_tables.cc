#include "daemon/letter_tables.h"

#include <algorithm>

#include "daemon/base/columns.h"

namespace rimeward {
namespace {

// To which the first column of a table may shrink.
constexpr std::size_t kNarrowest = 8;

// An end of a line, or any other control character, would break the layout.
std::string one_line(std::string_view text) {
  std::string line(text);
  std::ranges::replace_if(
      line, [](char c) { return static_cast<unsigned char>(c) < 0x20 || c == 0x7f; },
      ' ');
  return line;
}

void pad(std::string& line, std::size_t width) {
  line.append(width - std::min(width, display_width(line)), ' ');
}

std::vector<std::size_t> widths_of(const std::vector<LetterColumn>& columns,
                                   std::size_t gap) {
  std::vector<std::size_t> widths;
  std::size_t others = kLetterIndent;
  for (const LetterColumn& column : columns) {
    widths.push_back(width_of(column));
    if (widths.size() > 1) others += gap + widths.back();
  }
  const std::size_t left = kLetterWidth - std::min(others, kLetterWidth);
  if (!widths.empty()) {
    widths.front() = std::min(widths.front(), std::max(left, kNarrowest));
  }
  return widths;
}

// One row: the first cell may take more lines than one.
std::string row_text(const std::vector<LetterColumn>& columns, std::size_t row,
                     const std::vector<std::size_t>& widths, std::size_t gap) {
  std::string text;
  bool is_first = true;
  for (const std::string& first : wrapped(columns.front()[row], widths.front())) {
    std::string line(kLetterIndent, ' ');
    line += first;
    std::size_t end = kLetterIndent + widths.front();
    for (std::size_t c = 1; is_first && c < columns.size(); ++c) {
      pad(line, end + gap);
      line += columns[c][row];
      end += gap + widths[c];
    }
    // A line of a table keeps its indent, even where there is nothing in it.
    line.erase(std::max(line.find_last_not_of(' ') + 1, kLetterIndent));
    text += line + '\n';
    is_first = false;
  }
  return text;
}

}  // namespace

std::size_t width_of(const LetterColumn& column) {
  std::size_t width = 0;
  for (const std::string& cell : column)
    width = std::max(width, display_width(cell));
  return width;
}

void align_right(LetterColumn& column) {
  const std::size_t width = width_of(column);
  for (std::string& cell : column)
    cell.insert(0, width - display_width(cell), ' ');
}

std::string table_text(const std::vector<LetterColumn>& columns, std::size_t gap) {
  if (columns.empty()) return "";
  std::vector<LetterColumn> safe = columns;
  for (LetterColumn& column : safe)
    std::ranges::transform(column, column.begin(), one_line);
  const std::vector<std::size_t> widths = widths_of(safe, gap);
  std::string text;
  for (std::size_t row = 0; row < safe.front().size(); ++row)
    text += row_text(safe, row, widths, gap);
  if (!text.empty()) text.pop_back();
  return text;
}

std::string list_text(std::span<const std::string> items) {
  std::string text;
  for (const std::string& item : items) {
    std::string indent(kLetterIndent, ' ');
    for (const std::string& line :
         wrapped(one_line(item), kLetterWidth - 2 * kLetterIndent)) {
      if (!text.empty()) text += '\n';
      text += indent + line;
      indent.assign(2 * kLetterIndent, ' ');
    }
  }
  return text;
}

std::string letter_text(std::span<const std::string> paragraphs) {
  std::string text;
  for (const std::string& paragraph : paragraphs) {
    if (paragraph.empty()) continue;
    if (!text.empty()) text += "\n\n";
    text += paragraph;
  }
  return text;
}

}  // namespace rimeward
