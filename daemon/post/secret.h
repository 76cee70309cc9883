// Passwords and tokens, which are read from their files when they are needed and are
// neither kept nor shown.

#pragma once

#include <string>

#include "sensors/result.h"

namespace rimeward {

// The first line of `file`, without its end. Refused, naming the file and `key`, the key
// of the settings that it is from: a file that cannot be read, an empty line, and one
// with control characters, which no header could carry.
Result<std::string> read_secret(const std::string& key, const std::string& file);

}  // namespace rimeward
