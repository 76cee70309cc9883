// What `rimeward` alone says: how each place is and how low it goes tonight, what is
// pending, and what to try next. Pure but for the store.

#pragma once

#include <string>

#include "tools/cli/verb.h"

namespace rimeward {

Reply summary(const Context& context);

// Where there is no garden to tell of: how to begin, and the verbs there are.
std::string summary_without_garden(const Surroundings& around);

}  // namespace rimeward
