// The manual pages of the programs: made from the verbs' own tables, the daemon's flags,
// and the example settings. Pure.

#pragma once

#include <string>
#include <string_view>

namespace rimeward {

// rimeward(1). `evening` is a dialogue: sentences, and indented beneath them commands
// after "$ " with what they showed.
std::string page_of_terminal(std::string_view evening);

// rimewardd(8).
std::string page_of_daemon();

// rimeward.toml(5), from config/garden.toml, whose comments are the manual of its keys.
std::string page_of_settings(std::string_view garden_toml);

}  // namespace rimeward
