// Words and durations as people write and read them. Pure and thread-safe.

#pragma once

#include <chrono>
#include <optional>
#include <span>
#include <string>
#include <string_view>

#include "sensors/result.h"

namespace rimeward {

// The candidate that `word` was most likely meant to be, the first of equals; nothing
// when none is near. Near: at most one slip (a letter left out, added, changed, or
// swapped with its neighbour) in every three letters, or a candidate that `word` begins;
// capitals do not count.
std::optional<std::string_view> nearest(std::string_view word,
                                        std::span<const std::string_view> candidates);

// `; did you mean "<nearest>"?`, ready to follow an error message; empty when none is
// near.
std::string did_you_mean(std::string_view word,
                         std::span<const std::string_view> candidates);

// Whether it may be the id of a place or a sensor: lower-case letters, digits and hyphens
// between them, at most 64.
bool is_id(std::string_view text);

// Reads a whole number and its unit, such as "500 ms", "10 s", "30 min", "2 h", "1 day".
Result<std::chrono::milliseconds> duration_from_text(std::string_view text);

// The same form with the largest unit that divides the duration: "90 min", "2 days".
std::string text_of(std::chrono::milliseconds duration);

// "09:00" as minutes since midnight; nothing for any other text.
std::optional<std::chrono::minutes> time_of_day_from_text(std::string_view text);

// A place's name as it stands in the middle of a sentence: "North frame" becomes "the
// north frame". A name that carries its own article ("the old frame") or owner ("Anna's
// bed", "our frame") gets none, and an acronym keeps its capitals ("the QX bed"). A
// proper name at the start loses its capital, for it cannot be told from a word.
std::string in_sentence(std::string_view name);

}  // namespace rimeward
