// A chart as a picture, for the screen and to be printed. No state, no clock.

#pragma once

#include <optional>
#include <string>

#include "daemon/post/pen.h"
#include "tools/draw/chart.h"

namespace rimeward {

// The file's bytes, 960 pixels wide and some 480 high, more where covers and notices
// stand below the plot. Of each line a curve, or where a point stands for several
// readings its two edges and the band between; pieces are not joined. Lines differ by
// colour, by dashes and by marks. What there is no room for is counted, not left out
// silently. Texts may hold anything. Nothing when there is no memory to draw in.
// REQUIRES: a span that ends after it begins, as chart_from_json() has it.
std::optional<std::string> chart_picture(const Chart& chart, PictureFormat format);

}  // namespace rimeward
