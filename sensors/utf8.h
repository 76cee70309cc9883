// The characters of UTF-8 text from outside, one after the other. Pure.

#pragma once

#include <cstddef>
#include <optional>
#include <string_view>

namespace rimeward {

struct Utf8Character {
  char32_t code = 0;
  std::size_t length = 0;  // in bytes; never 0
};

// The character that `text` begins with; nothing where its bytes are none by RFC 3629:
// overlong forms, surrogates and what lies beyond U+10FFFF too. REQUIRES: it is not
// empty.
std::optional<Utf8Character> first_character(std::string_view text);

}  // namespace rimeward
