// The lines and paragraphs of a letter's text. Pure.

#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace rimeward {

struct Paragraph {
  std::vector<std::string> lines;  // never empty, none of them empty
  bool is_table = false;           // all lines begin with two spaces
  bool operator==(const Paragraph&) const = default;
};

// `text` with spaces in place of control characters, line ends among them.
std::string one_line(std::string_view text);

// As Letter::Section::body has them (daemon/post/job.h). A line ends at LF, CR LF or CR;
// each is as one_line() has it.
std::vector<Paragraph> paragraphs(std::string_view text);

}  // namespace rimeward
