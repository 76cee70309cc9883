// Every kind of notice by the name that it has in the settings, at the terminal and in
// the store: those that a rule raises, then the letters. Pure.

#pragma once

#include <array>
#include <string_view>

namespace rimeward {

// The letters (daemon/letters.h).
inline constexpr std::string_view kMorningLetter = "morning";
inline constexpr std::string_view kSundayLetter = "sunday";

// Rules that others must know by name: what waits for nothing, and what tells that a
// route or the store fails.
inline constexpr std::string_view kDanger = "danger";
inline constexpr std::string_view kRoute = "route";
inline constexpr std::string_view kStore = "store";

// The subject of a notice about the garden as a whole. With a space, so that no place or
// sensor can be called so.
inline constexpr const char* kWholeGarden = "the garden";

inline constexpr std::array kNoticeKinds{
#define RULE(kind, every, raise_after, clear_after, follows, takes_over, is_one, \
             remind_before)                                                      \
  std::string_view(#kind),
#include "daemon/notice/rules.def"
#undef RULE
    kMorningLetter,
    kSundayLetter,
};

// Which are about the garden as a whole, and ask for nothing.
constexpr bool is_letter(std::string_view kind) {
  return kind == kMorningLetter || kind == kSundayLetter;
}

}  // namespace rimeward
