// The places that a verb with `--place` is asked about. Pure.

#pragma once

#include <vector>

#include "sensors/result.h"
#include "tools/cli/verb.h"

namespace rimeward {

// The one that --place names, refused with the nearest where there is none such; without
// it all, as in the settings. Good as long as the context.
Result<std::vector<const Place*>> places_asked(const Context& context,
                                               const Arguments& arguments);

}  // namespace rimeward
