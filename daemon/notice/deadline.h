// By when a cover is to be on a place, and when in the day people are sent out to one.
// Pure.

#pragma once

#include <chrono>
#include <optional>

#include "daemon/climate/night_course.h"
#include "daemon/notice/situation.h"
#include "sensors/units.h"

namespace rimeward {

// After sunrise: before then nobody is called out of bed for what a night left behind.
inline constexpr std::chrono::hours kUp{1};
// After solar noon: from here on it is the coming night that asks for work outside, and
// its first outlook is issued.
inline constexpr std::chrono::hours kDayTurns{3};

// True before the hour at which the gardener is ready in the morning, by the garden's
// clock; never where none is set.
bool is_before_morning(const Situation& situation);

enum class CoverReason {
  kDark,     // daylight goes
  kEvening,  // the gardener wants to be done
  kWarmth,   // the place has lost what a cover is to keep
  kLate,     // it is late for all of these: as soon as it can be done
};

struct CoverDeadline {
  Instant at;
  CoverReason reason = CoverReason::kDark;
};

struct CoverLimits {
  Instant sunset;
  std::optional<Instant> evening_by{};   // absent: no such hour
  std::optional<Instant> warmth_gone{};  // absent: as warmth_gone()
};

// When the course has come down to where little is left for a cover to keep, in whole
// five minutes. Nothing where the air stays above that, or is below it from the course's
// beginning: then there is nothing to hurry for.
std::optional<Instant> warmth_gone(const NightCourse& course, Celsius keep_above);

// The earliest of the limits that leaves time to act for one who is told at `now` of an
// outlook of `issued_at`: never a time that has passed or hardly comes.
CoverDeadline cover_deadline(const CoverLimits& limits, Instant issued_at, Instant now);

}  // namespace rimeward
