// How good outlooks were, against the lows that came. Pure: thread-safe.
//
// Names as in Wilks, Statistical Methods in the Atmospheric Sciences, ch. 8. The false
// alarm ratio is the share of the calls that were false, not of the quiet nights that
// were called.

#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <vector>

#include "daemon/climate/outlook.h"
#include "sensors/units.h"

namespace rimeward {

struct VerifiedOutlook {
  Celsius low;  // as forecast
  Celsius low10;
  Celsius low90;
  Odds odds;  // that the low comes to the threshold or below it
  Celsius came;
  Kelvins ranked{};  // ranked_score() of the outlook
};

VerifiedOutlook verified(const Outlook& outlook, Celsius threshold, Celsius came);

// The continuous ranked probability score of the outlook's odds, taken over all
// thresholds: 0 is perfect, and a forecast without a spread has its absolute error.
// Worked out for the two half-normal sides of an outlook, which ends at its running low;
// for equal sides without one it is the normal curve's of Gneiting et al. (2005), Mon.
// Weather Rev. 133, 1098-1118, eq. 5.
// REQUIRES: the spreads are above 0, and `came` is not above running_low, as no low is.
Kelvins ranked_score(const Outlook& outlook, Celsius came);

// Calls (yes or no) against nights that came to the threshold or did not.
struct YesNoTable {
  std::int64_t caught = 0;
  std::int64_t missed = 0;
  std::int64_t false_calls = 0;
  std::int64_t quiet = 0;  // neither called nor come
  bool operator==(const YesNoTable&) const = default;
};

// Share of the cold nights that were called; undefined without a cold night.
std::optional<double> probability_of_detection(const YesNoTable& table);
// Share of the calls that were false; undefined without a call.
std::optional<double> false_alarm_ratio(const YesNoTable& table);

struct OutlookScores {
  std::int64_t nights = 0;
  // Undefined without a night.
  std::optional<Kelvins> mean_absolute_error;
  std::optional<Kelvins> bias;           // mean of forecast less come: above 0, too warm
  std::optional<double> share_in_range;  // of the lows, within low10 to low90
  std::optional<Kelvins> mean_range;     // from low10 to low90
  std::optional<Kelvins> mean_ranked;    // ranked_score()
  // Mean squared difference of odds and what came (1 or 0); 0 is perfect. Brier (1950),
  // Mon. Weather Rev. 78, 1-3.
  std::optional<double> brier;
  YesNoTable calls;
};

// A night is called when its odds are `call_at` or more, and came when its low is the
// threshold or below.
OutlookScores scores_of(std::span<const VerifiedOutlook> outlooks, Celsius threshold,
                        Odds call_at);

// The share of a baseline's Brier score that the odds do away with: 1 is perfect, 0 no
// better. Undefined beside a perfect baseline.
std::optional<double> brier_skill(double brier, double baseline);

// Outlooks whose odds were much the same, and how many of their nights came.
struct OddsBin {
  Odds from;   // these odds and above
  Odds below;  // and less than these; the last bin has 1 as well
  std::int64_t nights = 0;
  Odds mean{};  // of the odds given
  double share_came = 0.0;
};

// Whether odds mean what they say: mean and share_came of a bin should be alike, within
// what so few nights can tell. In order of the odds; bins without a night are left out.
// One edge is at 20 %, from where on a night is called unless a place says otherwise.
std::vector<OddsBin> reliability(std::span<const VerifiedOutlook> outlooks,
                                 Celsius threshold);

}  // namespace rimeward
