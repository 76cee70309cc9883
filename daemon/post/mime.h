// Words and bytes in the form in which mail carries them: ASCII in short lines that end
// in CRLF. Pure.
//
// Nothing that is given here can end a line of a header: control characters, among them
// CR, LF and NUL, become spaces.

#pragma once

#include <string>
#include <string_view>

namespace rimeward {

// RFC 4648, section 4, in lines of 76 characters; the last one ends in CRLF too.
std::string base64_lines(std::string_view bytes);

// Text as the value of a header: as it stands where it is short printable ASCII, else as
// encoded words (RFC 2047, UTF-8), a folded line each.
std::string header_text(std::string_view text);

// Likewise as the name beside an address, which is quoted where it is not encoded.
std::string display_name(std::string_view text);

// What is ASCII by its nature, such as an address; other characters become "?".
std::string header_ascii(std::string_view text);

}  // namespace rimeward
