// What a `mute` says, as an action's detail has it: "damp 2026-04-20T08:00:00Z". Pure.

#pragma once

#include <chrono>
#include <optional>
#include <string>
#include <string_view>

#include "daemon/store/rows.h"

namespace rimeward {

// What is said to be longer is a slip: of the year, mostly.
inline constexpr std::chrono::days kLongestMute{366};

std::string mute_detail(std::string_view kind, Instant until);

// Nothing for an action that says no such thing.
std::optional<MuteRow> mute_of(const ActionRow& action);

}  // namespace rimeward
