// What a set-up reads from the machine and writes to it: its time zone and language, and
// the new settings file.

#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <string_view>

#include "sensors/result.h"
#include "tools/cli/first_time/first_time_site.h"

namespace rimeward {

// By TZ, /etc/timezone or /etc/localtime, and by LC_ALL, LC_MESSAGES or LANG.
MachineHabits habits_of_machine();

// The zone that a text such as TZ or a link's target names: "Europe/Berlin" of
// ":Europe/Berlin" and of "/usr/share/zoneinfo/Europe/Berlin". Empty where it names none
// that is known, or UTC, which no garden is in. Pure.
std::string zone_named_in(std::string_view text);

// Why a new file cannot be made there, with what to do; nothing where it seems it can.
std::optional<std::string> trouble_with_new(const std::filesystem::path& file);

// Makes the file, that everybody may read and its owner write, and the folders that it
// needs. Never touches what is there: a file, a link or a folder is refused. What could
// not be written whole is taken away again.
Result<void> write_new(const std::filesystem::path& file, std::string_view text);

}  // namespace rimeward
