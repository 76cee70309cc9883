// The layout of letters: what stands in columns is right in a typewriter face, on a
// terminal as in an e-mail. Every line begins with two spaces, which tells a table from a
// paragraph (daemon/post/job.h), and has at most kLetterWidth columns. Pure.

#pragma once

#include <cstddef>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace rimeward {

inline constexpr std::size_t kLetterWidth = 72;
inline constexpr std::size_t kLetterIndent = 2;

// The cells of one column, from above.
using LetterColumn = std::vector<std::string>;

// That of its widest cell.
std::size_t width_of(const LetterColumn& column);

// Pads the cells in front to the width of the widest, as numbers stand.
void align_right(LetterColumn& column);

// The columns side by side, `gap` apart, no space at the end of a line. Where they are
// too wide together, the first one gives way: its cells wrap. REQUIRES: all are as long.
std::string table_text(const std::vector<LetterColumn>& columns, std::size_t gap);

// One item a line, or more where it is long: those after the first are set in.
std::string list_text(std::span<const std::string> items);

// With an empty line between two; those that are empty are left out.
std::string letter_text(std::span<const std::string> paragraphs);

}  // namespace rimeward
