// Instants as ISO 8601 / RFC 3339 text. Pure; no locale, no local time.

#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "sensors/units.h"

namespace rimeward {

// Reads "2026-04-12T18:03:20Z" and its kin: an offset such as "+02:00", "+0200" or "+02"
// in place of Z, a space in place of T, seconds left out, a fraction of a second (passed
// over: an Instant is whole seconds). A leap second is the first second after it.
// Nothing for any other text, for a date that no calendar has, and for a time without
// offset, which does not say what instant it is.
std::optional<Instant> parse_instant(std::string_view text);

// "2026-04-12T18:03:20Z".
std::string format_utc(Instant at);

}  // namespace rimeward
