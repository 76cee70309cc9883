// `rimeward --complete INDEX WORD...`: how the shells ask what they may offer. Reads the
// settings and the store that the line names, where they can be read.

#pragma once

#include <span>
#include <string>

#include "tools/cli/screen.h"

namespace rimeward {

inline constexpr const char* kCompleteOption = "--complete";

// What stands in `words` after --complete; INDEX counts the words of the line from 0,
// without the program's name. The lines of completion.h. Says nothing of what is wrong
// anywhere, and waits for nothing.
std::string complete_line(std::span<const std::string> words, const Screen& screen);

}  // namespace rimeward
