// Where a garden lies, as a person writes it and as it is said back. Pure.

#pragma once

#include <string>
#include <string_view>

#include "daemon/base/garden.h"
#include "sensors/result.h"

namespace rimeward {

// Latitude, then longitude, each in degrees, or in degrees and minutes, or with seconds
// too: "48.41, 9.52", "-33.92 18.42", "48.41 N 9.52 E", "48°24'36\"N 9°31'12\"E",
// "N 48 24.6, E 9 31.2". With N, S, E or W in either order. A comma may be the decimal
// mark where it can be told apart: "48,41; 9,52". To a ten-thousandth of a degree, which
// is 11 m.
Result<Position> position_from_text(std::string_view text);

// "48.41 north, 9.52 east", "33.92 south, 18.42 east".
std::string position_text(Position position);

}  // namespace rimeward
