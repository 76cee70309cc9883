// Runs rimeward-draw, which makes pictures of charts: this program links no drawing
// library.

#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "tools/draw/chart.h"

namespace rimeward {

// The rimeward-draw that stands beside this program, else its bare name, which is looked
// for on PATH.
std::string draw_program();

// Has `program` write the picture of that kind, "svg" or "png", to `file`. Nothing when
// it did; else why not, with what to do. Throws std::system_error where the machine has
// no process, pipe or memory left.
std::optional<std::string> draw_picture(const std::string& program, std::string_view kind,
                                        const std::string& file, const Chart& chart);

}  // namespace rimeward
