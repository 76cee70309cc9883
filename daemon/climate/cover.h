// The layers of fleece over a place through time, and what they make of readings and of
// outlooks. The outlook is of the uncovered place, so that one history serves for every
// cover; this is the way from there to what a cover will hold, and back from what was
// read beneath one. Pure: thread-safe.

#pragma once

#include <optional>
#include <span>
#include <vector>

#include "daemon/climate/features.h"
#include "daemon/climate/lift.h"
#include "daemon/climate/outlook.h"
#include "daemon/climate/recents.h"
#include "sensors/units.h"

namespace rimeward {

struct CoverChange {
  Instant since{};
  int layers = 0;
  bool operator==(const CoverChange&) const = default;
};

// The cover of one place: its changes, oldest first, as far back as anyone asks. Nothing
// before the first: no cover.
using CoverHistory = std::vector<CoverChange>;

int layers_at(std::span<const CoverChange> history, Instant at);

// True where there was any, ever.
bool was_covered(std::span<const CoverChange> history);

// A cover goes on by sunset or it is not the night's: what goes on later finds the warmth
// gone. People write it down a little after.
inline constexpr std::chrono::minutes kCoverGrace{30};

// What was on all night, from sunset (and kCoverGrace) to sunrise; nothing where it was
// changed in between.
std::optional<int> layers_over(std::span<const CoverChange> history, const Night& night);

// What the cover adds to the air of a place at some instant: nothing by day, when a
// fleece may warm it by any amount; from three hours before sunset on, and once it has
// been on for a while, a growing part of its lift.
Kelvins lift_at(std::span<const CoverChange> history, const Lifts& lifts,
                const Night& night, Instant at);

// The readings as they would be without a cover: air as by lift_at(), humidity so that
// the dew point stays. Those outside the nights given stay as they are.
Recents as_if_uncovered(const Recents& recents, std::span<const CoverChange> history,
                        const Lifts& lifts, std::span<const Night> nights);

// The outlook of the uncovered place, brought under a cover. Knows nothing of what was
// read since sunset: running_low is empty.
Outlook under(const Outlook& uncovered, const Lift& lift);

}  // namespace rimeward
