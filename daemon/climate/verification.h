// How good outlooks were, against the lows that came. Pure: thread-safe.
//
// Names as in Wilks, Statistical Methods in the Atmospheric Sciences, ch. 8. The false
// alarm ratio is the share of the calls that were false, not of the quiet nights that
// were called.

#pragma once

#include <cstdint>
#include <optional>
#include <span>

#include "sensors/units.h"

namespace rimeward {

struct VerifiedOutlook {
  Celsius low;  // as forecast
  Celsius low10;
  Celsius low90;
  Odds odds;  // that the low comes to the threshold or below it
  Celsius came;
};

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
  std::optional<double> share_in_range;  // of the lows, within low10 to low90
  std::optional<Kelvins> mean_range;     // from low10 to low90
  // Mean squared difference of odds and what came (1 or 0); 0 is perfect. Brier (1950),
  // Mon. Weather Rev. 78, 1-3.
  std::optional<double> brier;
  YesNoTable calls;
};

// A night is called when its odds are `call_at` or more, and came when its low is the
// threshold or below.
OutlookScores scores_of(std::span<const VerifiedOutlook> outlooks, Celsius threshold,
                        Odds call_at);

}  // namespace rimeward
