#include "daemon/climate/lift.h"

#include <algorithm>

namespace rimeward {

Kelvins lift(int layers) {
  constexpr double kOneLayer = 1.0;
  constexpr double kMost = 6.0;
  return {std::min(kOneLayer * layers, kMost)};
}

}  // namespace rimeward
