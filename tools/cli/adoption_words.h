// What is heard and belongs to no sensor, in words. Pure.

#pragma once

#include <string>

#include "daemon/base/garden.h"
#include "tools/cli/adoption.h"

namespace rimeward {

// "temperature 3.1 °C, humidity 81 %"; or that it tells no value yet, or not of what.
std::string samples_text(const Way& way, TemperatureUnit unit);

// The same with the format, in every way that it can be read, or why it cannot. What an
// outsider chose is escaped in it.
std::string says_text(const Candidate& candidate, TemperatureUnit unit);

}  // namespace rimeward
