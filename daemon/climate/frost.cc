#include "daemon/climate/frost.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <numeric>

namespace rimeward {
namespace {

using std::chrono::days;
using std::chrono::January;
using std::chrono::July;
using std::chrono::sys_days;
using std::chrono::year;
using std::chrono::years;

// The z that a standard normal variate exceeds with these odds; by halving, since it is
// wanted a few times a year. REQUIRES: 0 < odds < 1.
double normal_exceeded_by(double odds) {
  double below = -10;
  double above = 10;
  for (int i = 0; i < 60; ++i) {
    const double z = std::midpoint(below, above);
    const bool exceeded_more = std::erfc(z / std::numbers::sqrt2) / 2 > odds;
    (exceeded_more ? below : above) = z;
  }
  return std::midpoint(below, above);
}

struct Spread {
  double mean;
  double deviation;  // of a sample: n - 1
};

// REQUIRES: two or more.
Spread spread_of(std::span<const days> sample) {
  const double count = static_cast<double>(sample.size());
  double mean = 0;
  for (const days one : sample)
    mean += static_cast<double>(one.count()) / count;
  double squares = 0;
  for (const days one : sample) {
    squares += std::pow(static_cast<double>(one.count()) - mean, 2);
  }
  return {mean, std::sqrt(squares / (count - 1))};
}

}  // namespace

Season season_of(year of, bool southern) {
  if (southern) {
    return {of / July / 1, (of + years{1}) / January / 1, (of + years{1}) / July / 1};
  }
  return {of / January / 1, of / July / 1, (of + years{1}) / January / 1};
}

year season_year(sys_days date, bool southern) {
  const year of = std::chrono::year_month_day{date}.year();
  return date < season_of(of, southern).begins ? of - years{1} : of;
}

FrostDates frost_dates(std::span<const NightLow> nights, const Season& season) {
  FrostDates dates;
  for (const NightLow& one : nights) {
    if (!is_frost(one.low) || one.night < season.begins || one.night >= season.ends) {
      continue;
    }
    if (one.night < season.midsummer) {
      auto& last = dates.last_of_spring;
      last = last ? std::max(*last, one.night) : one.night;
    } else {
      auto& first = dates.first_of_autumn;
      first = first ? std::min(*first, one.night) : one.night;
    }
  }
  return dates;
}

std::optional<std::chrono::duration<double, days::period>> day_by_odds(
    const PastFrosts& past, Odds later) {
  if (past.last.size() < 2) return std::nullopt;
  const double with = static_cast<double>(past.last.size());
  const double share = with / (with + past.years_without);
  if (later.value >= share) return std::nullopt;
  const Spread spread = spread_of(past.last);
  if (spread.deviation == 0) return std::nullopt;
  const double z = normal_exceeded_by(later.value / share);
  return std::chrono::duration<double, days::period>{spread.mean + z * spread.deviation};
}

Odds odds_of_later(int rank, int of_years) {
  return {static_cast<double>(rank) / (of_years + 1)};
}

}  // namespace rimeward
