// How a place's air temperature has been going lately. Pure.

#pragma once

#include <chrono>
#include <optional>
#include <span>

#include "daemon/climate/recents.h"
#include "sensors/units.h"

namespace rimeward {

struct Trend {
  Instant at;        // of the newest reading
  Celsius air;       // that reading
  Kelvins per_hour;  // slope of the least-squares line; negative: cooling
};

// Readings of this long before the newest one make the line: long enough to hold two of
// an hourly sensor, short enough to follow a cloud bank.
inline constexpr std::chrono::minutes kTrendSpan{75};

// Of the least-squares line through the readings. REQUIRES: they are of two seconds or
// more.
Kelvins slope_per_hour(std::span<const TimedValue> readings);

// From the readings at `now` and before. Nothing when the newest is older than
// `freshness`, or when those of the span cover less than twenty minutes.
std::optional<Trend> trend(const Series& air, Instant now,
                           std::chrono::minutes freshness = kTrendSpan);

// The lowest reading from `from` to `to`, both included, and when it was first read.
std::optional<TimedValue> lowest_between(const Series& air, Instant from, Instant to);

}  // namespace rimeward
