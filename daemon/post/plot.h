// What plots have in common, whatever they show: round steps along an axis, and names
// beside the ends of lines. Pure.

#pragma once

#include <cstddef>
#include <vector>

namespace rimeward {

// The smallest of 1, 2 and 5, with any number of noughts before or behind, of which at
// most `most` lie in `span`; `least` when that is smaller.
double round_step(double span, double least, int most);

struct Placed {
  std::size_t index;
  double at;
};

// Where to write what belongs at `wanted`, so that no two are nearer than `apart`: in the
// order of where they belong, as near to it as there is room for, and from `from` on.
// What there is no room for lies beyond `to`.
std::vector<Placed> placed_apart(const std::vector<double>& wanted, double from,
                                 double to, double apart);

}  // namespace rimeward
