// What layers of fleece add to the low of a night. Pure.

#pragma once

#include "sensors/units.h"

namespace rimeward {

// The lift to count on, at the low end of what is published, since a frost warning must
// not rest on a good night: one layer of light fleece (17 to 19 g/m2) adds 1 to 2 K and
// two add 2 to 3 K (common practice, no source; the FAO gives 1 to 5 K for row covers of
// all weights: Snyder & de Melo-Abreu 2005, Frost Protection vol. 1, ch. 6). Never more
// than 6 K in all, and only for a cover that is on before sunset, its edges held down.
Kelvins lift(int layers);

}  // namespace rimeward
