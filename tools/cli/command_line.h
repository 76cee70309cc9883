// The command line: which verb, with what. The only user of CLI11. Pure.

#pragma once

#include <optional>
#include <span>
#include <string>

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

// Every verb with its one line, two spaces before it.
std::string verb_list(const Screen& screen);

}  // namespace rimeward
