// Reads the settings file into a Garden. config/garden.toml is the manual of its keys.

#pragma once

#include <filesystem>
#include <string>
#include <string_view>
#include <vector>

#include <tl/expected.hpp>

#include "daemon/base/garden.h"

namespace rimeward {

// The garden, or every mistake of the file, each as "FILE:LINE: [table] key: what was
// wrong; remedy" and in the order of the lines. A garden that comes back is sound: ids
// are unique and known where they are used, the time zone exists, no list that must have
// something is empty.
using SettingsOutcome = tl::expected<Garden, std::vector<std::string>>;

SettingsOutcome read_garden(const std::filesystem::path& file);

// The same from text that is already in memory; `file_name` is for the messages.
SettingsOutcome read_garden_text(std::string_view toml, std::string_view file_name);

}  // namespace rimeward
