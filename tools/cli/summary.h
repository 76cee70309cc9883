// What `rimeward` alone says: what is pending now, and the verbs to try. Pure but for the
// store.

#pragma once

#include "tools/cli/verb.h"

namespace rimeward {

Reply summary(const Context& context);

}  // namespace rimeward
