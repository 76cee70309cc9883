// A UTC day of one series as bytes: the form in which old readings are kept. Pure.
//
// A byte for the format, 1; the CRC-32 of the numbers (RFC 1952), four bytes, the least
// first; and as a DEFLATE stream (RFC 1951) the numbers, LEB128 whole ones, those that
// may be negative in zigzag order:
//   how many readings; the step that divides every difference of two values, at least 1;
//   the first reading's second of the day and its value;
//   for each further reading how much later it came than the one before, less what the
//   one before came later than its own predecessor (0 for the first);
//   for each further reading by how many steps its value differs from the one before.
// A sensor that speaks evenly thus makes runs of zeros and small numbers, and all its
// times stand together: a reading takes a byte or less. Not the zlib form, whose Adler-32
// lets some single bits of such numbers change unseen.

#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "sensors/channel.h"
#include "sensors/result.h"

namespace rimeward {

inline constexpr std::int32_t kSecondsADay = 86'400;

// One reading of the day.
struct DayReading {
  std::int32_t second = 0;  // since the day began, below kSecondsADay
  Milli value = 0;
  bool operator==(const DayReading&) const = default;
};

// REQUIRES: at least one; each later than the one before.
std::string packed(const std::vector<DayReading>& readings);

// Refuses what packed() did not make: damaged, or of a format from a newer version.
Result<std::vector<DayReading>> unpacked(std::string_view bytes);

}  // namespace rimeward
