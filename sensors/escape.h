// Text from outside made safe to show: in a log, a message, a terminal. Pure.

#pragma once

#include <cstddef>
#include <string>
#include <string_view>

namespace rimeward {

// `text` with quotes, backslashes, control characters, characters that turn or hide text
// (Unicode's bidirectional and zero-width ones) and bytes that are not UTF-8 written as
// \", \\, \n, \x1b or \u202e; other characters stand as they are. What is longer than
// `longest` characters is cut there and ends in "...".
std::string escaped(std::string_view text, std::size_t longest = 40);

}  // namespace rimeward
