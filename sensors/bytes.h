// Bytes that are written as text, which is how they stand in JSON and on many topics.
// Pure.

#pragma once

#include <optional>
#include <string>
#include <string_view>

namespace rimeward {

// The bytes that hexadecimal text writes, two digits a byte, of either case: "40 02 ca".
// "0x" may stand in front, and one of blank, ":" and "-" between the bytes, the same
// everywhere. Nothing for any other text; no bytes for "".
std::optional<std::string> bytes_from_hex(std::string_view text);

// The bytes that base64 text writes (RFC 4648, sections 4 and 5: with "+" and "/" or with
// "-" and "_"), with its padding or without. Nothing for any other text: also not with
// line ends within, and not when the bits that are left over are not zero, which no
// encoder leaves (section 3.5). No bytes for "".
std::optional<std::string> bytes_from_base64(std::string_view text);

}  // namespace rimeward
