// Numbers in a JSON message whose keys no decoder knows, so that its owner can say what
// each is. Pure.

#pragma once

#include <string_view>
#include <vector>

#include "tools/cli/adoption.h"

namespace rimeward {

// With their JSON pointers, in the order of the message, at most a dozen; empty for
// anything but a JSON object or array that holds some. A key that sounds like a channel
// speaks for it, where no earlier one does.
std::vector<FoundNumber> numbers_in_json(std::string_view payload);

}  // namespace rimeward
