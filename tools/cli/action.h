// What the verbs that write have in common: the gardener's word goes into the store, from
// where the daemon takes it.

#pragma once

#include <string>
#include <string_view>

#include "tools/cli/verb.h"

namespace rimeward {

// Writes the action down and says so: `said`, then whether the daemon is there to take
// it. As JSON: the action's id, verb and members, and daemon_running. It is of now,
// unless it has a time of its own. REQUIRES: the action holds against the settings and
// the store.
Reply write_down(const Context& context, ActionRow action, std::string text);

// The parameters of a verb that says only what was done to a place, just now.
inline constexpr std::string_view kPlaceDoneTo = "PLACE";
inline constexpr Parameter kOnlyPlace[]{
    {kPlaceDoneTo, "", "the place, by its id or name", true, Offers::kPlaces}};

// All that such a verb does: `is_now` is what the place then is, such as "uncovered".
Reply write_down_of_place(const Context& context, const Arguments& arguments,
                          std::string_view verb, std::string_view is_now);

}  // namespace rimeward
