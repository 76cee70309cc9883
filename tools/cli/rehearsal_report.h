// What a rehearsal came to, for a person and for a machine. Pure.

#pragma once

#include <string>

#include "daemon/base/garden.h"
#include "daemon/base/zone.h"
#include "tools/cli/screen.h"
#include "tools/rehearsal.h"

namespace rimeward {

// What the outlooks of a place are asked about: its keep-above, else 0 °C.
Celsius threshold_of(const Place& place);

// `garden` and `zone` are those of the rehearsal.
std::string rehearsal_text(const Rehearsal& rehearsal, const Garden& garden,
                           const Zone& zone, const Screen& screen);
std::string rehearsal_json(const Rehearsal& rehearsal, const Garden& garden,
                           const Zone& zone);

}  // namespace rimeward
