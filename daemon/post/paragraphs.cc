#include "daemon/post/paragraphs.h"

#include <algorithm>
#include <cstddef>
#include <utility>

namespace rimeward {
namespace {

std::string next_line(std::string_view& text) {
  const std::size_t end = std::min(text.find_first_of("\r\n"), text.size());
  std::string line = one_line(text.substr(0, end));
  text.remove_prefix(end);
  text.remove_prefix(text.starts_with("\r\n") ? 2
                                              : std::min<std::size_t>(1, text.size()));
  return line;
}

bool is_blank(std::string_view line) {
  return line.find_first_not_of(' ') == std::string_view::npos;
}

}  // namespace

std::string one_line(std::string_view text) {
  std::string line(text);
  const auto is_control = [](char c) {
    return static_cast<unsigned char>(c) < 0x20 || c == 0x7f;
  };
  std::ranges::replace_if(line, is_control, ' ');
  return line;
}

std::vector<Paragraph> paragraphs(std::string_view text) {
  std::vector<Paragraph> all;
  Paragraph one;
  const auto end_paragraph = [&] {
    if (one.lines.empty()) return;
    one.is_table = std::ranges::all_of(
        one.lines, [](const std::string& line) { return line.starts_with("  "); });
    all.push_back(std::exchange(one, {}));
  };
  while (!text.empty()) {
    std::string line = next_line(text);
    if (is_blank(line)) {
      end_paragraph();
    } else {
      one.lines.push_back(std::move(line));
    }
  }
  end_paragraph();
  return all;
}

}  // namespace rimeward
