// Numbers as payloads write them. Pure; no locale: a decimal point is a point.

#pragma once

#include <cstddef>
#include <string_view>

namespace rimeward {

enum class NumberFault {
  kNone,
  kNotANumber,  // no digits where they must stand, or "nan" or "inf"
  kTooLarge,    // or too near to zero, for a double
};

// The number that a text begins with, a leading "+" allowed.
struct LeadingNumber {
  NumberFault fault;
  double value;        // finite; only without fault
  std::size_t length;  // bytes that were read
};

LeadingNumber leading_number(std::string_view text);

// `text` without white space (blank, tab, line ends) at either end.
std::string_view trimmed(std::string_view text);

}  // namespace rimeward
