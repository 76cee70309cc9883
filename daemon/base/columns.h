// Text in the columns of a typewriter face: a terminal's, or a letter's. Pure.

#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

namespace rimeward {

// In columns. Wide and combining characters by the ranges of Unicode Standard Annex 11
// and the combining blocks of the standard, coarsely: whole blocks, not each character.
// REQUIRES: no control characters in `text`.
std::size_t display_width(std::string_view text);

// Broken at spaces; a longer word is broken where the width ends. Never empty.
// REQUIRES: no control characters in `text`, and width > 1.
std::vector<std::string> wrapped(std::string_view text, std::size_t width);

}  // namespace rimeward
