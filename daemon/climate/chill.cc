#include "daemon/climate/chill.h"

#include <algorithm>
#include <array>

namespace rimeward {
namespace {

constexpr Milli kChillsUpTo = 7'200;

struct Band {
  Milli below;  // thousandths of a degree C
  Milli units;
};

constexpr std::array kBands{Band{1'450, 0},    Band{2'450, 500}, Band{9'150, 1'000},
                            Band{12'450, 500}, Band{15'950, 0},  Band{18'050, -500}};
constexpr Milli kWarmest = -1'000;

}  // namespace

int chill_hours(Milli mean) {
  return mean >= 0 && mean <= kChillsUpTo ? 1 : 0;
}

int chill_hours_with_frost(Milli mean) {
  return mean <= kChillsUpTo ? 1 : 0;
}

Milli chill_units(Milli mean) {
  const auto band = std::ranges::upper_bound(kBands, mean, {}, &Band::below);
  return band == kBands.end() ? kWarmest : band->units;
}

}  // namespace rimeward
