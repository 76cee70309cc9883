// A line of text in a file of its own, replaced whole: a kill at any instant leaves the
// old one or the new. Not made to outlive a power cut.

#pragma once

#include <filesystem>
#include <string>
#include <string_view>

namespace rimeward {

// Its first line; empty where there is no such file.
std::string read_note(const std::filesystem::path& file);

// False when it could not be written; the old one stands then.
bool write_note(const std::filesystem::path& file, std::string_view line) noexcept;

}  // namespace rimeward
