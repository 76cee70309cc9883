// The questions of a set-up about the garden's places.

#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "daemon/base/garden.h"
#include "tools/cli/first_time/first_time_dialogue.h"

namespace rimeward {

// Fills in the places, at least one. REQUIRES: the units are known. Throws Interrupted.
void ask_places(const Dialogue& dialogue, Garden& garden);

// The id of that name, with a number where it is taken; `otherwise` where the name has no
// letter that an id may have. Pure.
std::string own_id(std::string_view name, const std::vector<std::string>& taken,
                   std::string_view otherwise);

}  // namespace rimeward
