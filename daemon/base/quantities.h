// What agrometeorology computes, as types: each member that holds the number says its
// unit. Temperatures, humidity and odds are in sensors/units.h. Plain values, no locking.

#pragma once

#include <compare>

namespace rimeward {

// The pressure of water vapour, or how far it is from saturation.
struct Kilopascals {
  double kilopascals;
  constexpr auto operator<=>(const Kilopascals&) const = default;
};

// The pressure of the air itself.
struct Hectopascals {
  double hectopascals;
  constexpr auto operator<=>(const Hectopascals&) const = default;
};

// Water vapour in air.
struct GramsPerCubicMetre {
  double grams;
  constexpr auto operator<=>(const GramsPerCubicMetre&) const = default;
};

// Warmth above a base, over time: degrees C times days.
struct DegreeDays {
  double degree_days;
  constexpr auto operator<=>(const DegreeDays&) const = default;
};

// What the sun sends on a level square metre in a day.
struct MegajoulesPerSquareMetre {
  double megajoules;
  constexpr auto operator<=>(const MegajoulesPerSquareMetre&) const = default;
};

// A depth of water: rain, or what evaporates.
struct Millimetres {
  double millimetres;
  constexpr auto operator<=>(const Millimetres&) const = default;
};

// The air's dryness over time: vapour pressure deficit times hours.
struct KilopascalHours {
  double kilopascal_hours;
  constexpr auto operator<=>(const KilopascalHours&) const = default;
};

}  // namespace rimeward
