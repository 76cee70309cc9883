// Large counts as they are read: "312,000". Pure.

#pragma once

#include <cstdint>
#include <string>

namespace rimeward {

// With a comma at each thousand. REQUIRES: not negative.
std::string count_text(std::int64_t count);

}  // namespace rimeward
