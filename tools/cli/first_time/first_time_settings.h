// The settings file of a garden that is being set up: what was answered, with remarks,
// and as remarks the keys that were not asked for. Pure.

#pragma once

#include <optional>
#include <string>

#include "daemon/base/garden.h"
#include "tools/cli/screen.h"

namespace rimeward {

// TOML that read_garden_text() (daemon/settings.h) reads as just this garden. The screen
// only says whether letters beyond ASCII stand as they are or as TOML's \uNNNN, so that
// what is shown is what is written.
//
// A line that begins with "# " is a remark; one with "#" and a letter or a bracket is a
// setting that does not count, and would be a good one without its "#".
//
// What is written of the garden: name, position, time zone, units, language; address,
// listen, user, password and CA file of the broker; of a place id, name, kind, keep-above
// and vent-above; of a sensor id, place, topic, format, lone channel, scale and where its
// values stand. REQUIRES: all else is as a Garden begins, there is a place, and every
// text is UTF-8 without control characters.
std::string settings_text(const Garden& garden, const Screen& screen);

// What the settings reader has against the garden, without file and line: "[broker]
// address: ..."; nothing when it is sound and reads back as it is.
std::optional<std::string> trouble_with(const Garden& garden);

}  // namespace rimeward
