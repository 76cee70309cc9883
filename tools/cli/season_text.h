// The answer of `rimeward season` as text: a table a place, a column a season. Pure.

#pragma once

#include <chrono>
#include <optional>
#include <string>
#include <vector>

#include "tools/cli/season_answer.h"
#include "tools/cli/verb.h"

namespace rimeward {

// "2026", or "2026/27" where a season goes over the turn of the year.
std::string season_name(std::chrono::year year, bool is_southern);

// As many of a place's seasons as the screen has room for, the newest first; the others
// are named. `only` as asked for.
std::string season_text(const Context& context, const SeasonAnswer& answer,
                        const std::vector<const Place*>& places,
                        std::optional<std::chrono::year> only);

}  // namespace rimeward
