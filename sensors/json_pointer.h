// JSON Pointer, RFC 6901: the text form of a way into a JSON document. Pure.

#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace rimeward {

// The keys and indices that `pointer` leads through, unescaped; none for "", the whole
// document. Nothing when it is no pointer: it begins with something other than "/", or
// has a "~" that neither "0" nor "1" follows.
std::optional<std::vector<std::string>> pointer_tokens(std::string_view pointer);

}  // namespace rimeward
