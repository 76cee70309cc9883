// `rimeward batch list`: every batch with where it stands and how far it has come.

#pragma once

#include "tools/cli/verb.h"

namespace rimeward {

// With `all`, finished ones too.
Reply batch_list(const Context& context, bool all);

}  // namespace rimeward
