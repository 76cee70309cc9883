// Physical quantities as types: a humidity cannot be passed where a temperature is
// wanted, and the member that holds the number says its unit. Plain values, no locking.

#pragma once

#include <chrono>
#include <compare>

namespace rimeward {

// A moment in UTC, as stored and compared, to the second. Local days and nights exist
// only in daemon/base/zone.h.
using Instant = std::chrono::sys_seconds;

// Of those that a year of four digits can write, the first, and the first no longer so:
// what is read or stored lies between.
inline constexpr Instant kFirstInstant =
    std::chrono::sys_days{std::chrono::year{0} / 1 / 1};
inline constexpr Instant kEndOfInstants =
    std::chrono::sys_days{std::chrono::year{10'000} / 1 / 1};

// A difference between two temperatures.
struct Kelvins {
  double degrees;
  constexpr auto operator<=>(const Kelvins&) const = default;
};

// A temperature on the Celsius scale. Two of them subtract to Kelvins and do not add,
// as two instants of std::chrono subtract to a duration and do not add.
struct Celsius {
  double degrees;
  constexpr auto operator<=>(const Celsius&) const = default;
};

constexpr Kelvins operator-(Celsius a, Celsius b) {
  return {a.degrees - b.degrees};
}
constexpr Celsius operator+(Celsius t, Kelvins d) {
  return {t.degrees + d.degrees};
}
constexpr Celsius operator-(Celsius t, Kelvins d) {
  return {t.degrees - d.degrees};
}

// On the Fahrenheit scale, for display only.
constexpr double in_fahrenheit(Celsius t) {
  return t.degrees * 9 / 5 + 32;
}
constexpr double in_fahrenheit(Kelvins d) {
  return d.degrees * 9 / 5;
}

// Relative humidity over water, 0 to 100.
struct RelativeHumidity {
  double percent;
  constexpr auto operator<=>(const RelativeHumidity&) const = default;
};

// The odds of something, 0 to 1.
struct Odds {
  double value;
  constexpr auto operator<=>(const Odds&) const = default;
};

}  // namespace rimeward
