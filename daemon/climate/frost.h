// Frosts, and the dates between which a garden is free of them. Pure.
//
// An air frost is a temperature below 0.0 degrees C where the sensor is; exactly 0.0 is
// none. Frost day (low below 0) and ice day (high below 0) are as ETCCDI, the climate
// indices of the World Meteorological Organization, defines FD and ID; from memory.

#pragma once

#include <chrono>
#include <optional>
#include <span>

#include "sensors/channel.h"
#include "sensors/units.h"

namespace rimeward {

constexpr bool is_frost(Milli air) {
  return air < 0;
}

// 1 for an hour whose mean is a frost; else 0.
constexpr int frost_hours(Milli mean) {
  return is_frost(mean) ? 1 : 0;
}

// A growing season: the year from midwinter to midwinter around one summer. North of the
// equator a calendar year; south of it 1 July to 30 June, named by the year it begins in.
// As ETCCDI has it for the growing season length.
struct Season {
  std::chrono::sys_days begins;
  std::chrono::sys_days midsummer;  // first day of its second half
  std::chrono::sys_days ends;       // first day of the next one
  bool operator==(const Season&) const = default;
};

constexpr bool is_southern(double latitude) {
  return latitude < 0;
}

Season season_of(std::chrono::year year, bool southern);
// The year by which the season that holds `date` is named.
std::chrono::year season_year(std::chrono::sys_days date, bool southern);

// A night's low, dated by its morning.
struct NightLow {
  std::chrono::sys_days night;
  Milli low;
};

// The frosts that bound a summer; absent: none in that half of the season among the
// nights given.
struct FrostDates {
  std::optional<std::chrono::sys_days> last_of_spring;   // before midsummer
  std::optional<std::chrono::sys_days> first_of_autumn;  // from midsummer on
  bool operator==(const FrostDates&) const = default;
};

// `nights` in any order; those outside the season are passed over.
FrostDates frost_dates(std::span<const NightLow> nights, const Season& season);

// How late past springs had their last frost.
struct PastFrosts {
  // From the season's beginning to the last frost, of each year with one. A leap year
  // puts dates after February a day later, which is finer than such a figure.
  std::span<const std::chrono::days> last;
  int years_without = 0;
};

// The day after which a frost comes with these odds, as if last frosts were spread
// normally; in days from the season's beginning. Nothing with fewer than two years that
// had a frost or all of them the same, or when frosts are so rare that the odds are not
// reached at all.
// Source: Thom & Shaw (1958), Mon. Weather Rev. 86, 257-270: the share of years with a
// frost times the odds that it comes later.
// REQUIRES: 0 < odds < 1.
std::optional<std::chrono::duration<double, std::chrono::days::period>> day_by_odds(
    const PastFrosts& past, Odds later);

// The odds that a frost comes later than the one of this rank among `years`, the latest
// being rank 1: rank / (years + 1), after Weibull. REQUIRES: 1 <= rank <= years.
Odds odds_of_later(int rank, int years);

}  // namespace rimeward
