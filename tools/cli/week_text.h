// The answer of `rimeward week` as text. Pure.

#pragma once

#include <string>

#include "tools/cli/verb.h"
#include "tools/cli/week_answer.h"

namespace rimeward {

// A table, the newest date first; past years in columns of their own where these fit,
// else on lines beneath; then a sentence for each place and year.
std::string week_text(const Context& context, const WeekAnswer& answer);

}  // namespace rimeward
