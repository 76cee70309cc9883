#include "daemon/base/columns.h"

#include <algorithm>
#include <array>
#include <optional>
#include <span>

#include "sensors/utf8.h"

namespace rimeward {
namespace {

struct CodePoints {
  char32_t first;
  char32_t last;
};

constexpr std::array kZeroWidth{CodePoints{0x300, 0x36F},   CodePoints{0x1AB0, 0x1AFF},
                                CodePoints{0x1DC0, 0x1DFF}, CodePoints{0x20D0, 0x20FF},
                                CodePoints{0xFE00, 0xFE0F}, CodePoints{0xFE20, 0xFE2F}};
constexpr std::array kWide{CodePoints{0x1100, 0x115F},   CodePoints{0x2E80, 0xA4CF},
                           CodePoints{0xAC00, 0xD7A3},   CodePoints{0xF900, 0xFAFF},
                           CodePoints{0xFE30, 0xFE6F},   CodePoints{0xFF00, 0xFF60},
                           CodePoints{0xFFE0, 0xFFE6},   CodePoints{0x1F300, 0x1F64F},
                           CodePoints{0x1F900, 0x1F9FF}, CodePoints{0x20000, 0x3FFFD}};

bool holds(std::span<const CodePoints> ranges, char32_t character) {
  return std::ranges::any_of(ranges, [character](const CodePoints& range) {
    return range.first <= character && character <= range.last;
  });
}

// A byte that is no character takes a column, as whatever stands for it will.
std::size_t width_of(const std::optional<Utf8Character>& character) {
  if (!character) return 1;
  if (holds(kZeroWidth, character->code)) return 0;
  return holds(kWide, character->code) ? 2 : 1;
}

// The bytes of `text` that fill at most `width` columns; at least one character.
std::size_t bytes_within(std::string_view text, std::size_t width) {
  std::size_t bytes = 0;
  std::size_t used = 0;
  while (bytes < text.size()) {
    const auto next = first_character(text.substr(bytes));
    used += width_of(next);
    if (used > width && bytes > 0) break;
    bytes += next ? next->length : 1;
  }
  return bytes;
}

}  // namespace

std::size_t display_width(std::string_view text) {
  std::size_t width = 0;
  while (!text.empty()) {
    const auto next = first_character(text);
    width += width_of(next);
    text.remove_prefix(next ? next->length : 1);
  }
  return width;
}

std::vector<std::string> wrapped(std::string_view text, std::size_t width) {
  std::vector<std::string> lines{""};
  while (!text.empty()) {
    const std::size_t end = std::min(text.find(' '), text.size());
    std::string_view word = text.substr(0, end);
    text.remove_prefix(std::min(end + 1, text.size()));
    if (word.empty()) continue;
    const std::size_t before = lines.back().empty() ? 0 : display_width(lines.back()) + 1;
    if (before > 0 && before + display_width(word) > width) lines.emplace_back();
    if (!lines.back().empty()) lines.back() += ' ';
    while (display_width(word) > width) {
      const std::size_t bytes = bytes_within(word, width);
      lines.back() += word.substr(0, bytes);
      lines.emplace_back();
      word.remove_prefix(bytes);
    }
    lines.back() += word;
  }
  return lines;
}

}  // namespace rimeward
