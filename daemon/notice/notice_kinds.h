// Every kind of notice by the name that it has in the settings, at the terminal and in
// the store: those that a rule raises, then the letters. Pure.

#pragma once

#include <array>
#include <string_view>

namespace rimeward {

inline constexpr std::array kNoticeKinds{
#define RULE(kind, every, raise_after, clear_after, follows, takes_over, is_one, \
             remind_before)                                                      \
  std::string_view(#kind),
#include "daemon/notice/rules.def"
#undef RULE
    std::string_view("morning"),
    std::string_view("sunday"),
};

// Which are about the garden as a whole, and ask for nothing.
constexpr bool is_letter(std::string_view kind) {
  return kind == "morning" || kind == "sunday";
}

}  // namespace rimeward
