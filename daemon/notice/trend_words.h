// How notices say where a place's air is going. Pure.

#pragma once

#include <string>

#include "daemon/climate/trend.h"
#include "daemon/notice/wording.h"

namespace rimeward {

// "2.2 °C at 03:00, falling 1.2 °C an hour"; without the fall where it does not fall.
std::string falling_text(const Wording& wording, const Trend& going);

// "20.5 °C at 10:00, rising 5.0 °C an hour"; without the rise where it does not rise.
std::string rising_text(const Wording& wording, const Trend& going);

}  // namespace rimeward
