// Days with missing hours, and months with missing days: when a high, a low or a mean is
// that of its day or month. Pure.

#pragma once

#include <chrono>
#include <cstdint>
#include <span>

#include "sensors/units.h"

namespace rimeward {

// Of a day of 24, so many hours with readings make its high and low the day's: as
// coverage_of() has it, where the hours themselves are not known.
inline constexpr int kWholeDay = 20;

// Hours that hold a reading, of a span.
struct HoursHeld {
  int held = 0;
  int of = 0;           // in the span: 23, 24 or 25 of a local day
  int longest_gap = 0;  // the longest run without a reading, the span's edges counted
  bool operator==(const HoursHeld&) const = default;
};

// `hours` are the beginnings of UTC clock hours that hold readings, in order. An hour
// belongs to the span that it begins in.
// REQUIRES: begins <= ends, each hour once.
HoursHeld hours_held(std::span<const Instant> hours, Instant begins, Instant ends);

// Complete: high and low are the day's. Partial: they were read, but the day's own may
// lie beyond them. Not counted: so few readings that the day is as good as missing; a
// frost that was read was a frost all the same.
enum class DayCoverage { kComplete, kPartial, kNotCounted };

// Complete with at most four hours missing, and three in a row; not counted with less
// than half. Common practice, no source: the air seldom leaves the range of the hours
// around within three hours, but at dawn and after noon it may.
DayCoverage coverage_of(const HoursHeld& hours);

// Which months have a mean. Sums and counts want every day under either rule.
enum class MonthRule {
  // Missing with 11 or more missing days, or 5 or more in a row: WMO-No. 1203, Guidelines
  // on the Calculation of Climate Normals (2017); from memory.
  kWmo1203,
  // Missing with more than 5 missing days, or more than 3 in a row: the WMO's older rule,
  // as climate services quote it.
  kFiveThree,
};

// `missing` are the days of one month that are not counted, in order, each once.
bool has_month_mean(std::span<const std::chrono::sys_days> missing, MonthRule rule);

}  // namespace rimeward
