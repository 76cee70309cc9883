// The command line: which verb, with what. The only user of CLI11. Pure.

#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include <tl/expected.hpp>

#include "tools/cli/verb.h"

namespace rimeward {

struct Command {
  const Verb* verb = nullptr;  // nullptr: none was named
  Arguments arguments;
  std::optional<std::filesystem::path> config_file;
  std::optional<std::filesystem::path> store_file;
  Format format = Format::kText;
};

// A Reply where there is nothing to run: help that was asked for (status 0), the version,
// or a misuse (2), which names the nearest right spelling.
tl::expected<Command, Reply> parse_command(std::span<const std::string> words,
                                           const Screen& screen);

// Every verb with its one line, two spaces before it, below what its group is for.
std::string verb_list(const Screen& screen);

// An option, which begins with a hyphen, and not an argument told by where it stands.
bool is_option(const Parameter& parameter);

// All that can be given with a verb: its own parameters, then those of every verb. Of the
// program alone where it is null.
std::vector<Parameter> parameters_of(const Verb* verb);

// "rimeward cover PLACE [LAYERS]".
std::string usage_of(const Verb& verb);

// The word that names the verb: the first that is neither an option nor the value of one
// that every verb takes. Null: there is none. Good as long as `words`.
const std::string* verb_word(std::span<const std::string> words);

}  // namespace rimeward
