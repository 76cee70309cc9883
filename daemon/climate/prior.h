// What the night-low outlook believes of a place before it has seen a night there.
// Thread-safe: plain values and constants.

#pragma once

#include <array>
#include <string_view>

#include "daemon/climate/moment.h"
#include "sensors/result.h"

namespace rimeward {

// How an outlook's range starts and follows the errors that are made. The defaults are
// quicker than the method's executable specification. Measured on ten open records, each
// begun on ten different days, at four moments: of 400 whole records the 80 % range held
// less than 77 or more than 83 % of the nights in 4, with priors that never saw the
// climate, and in none with the built-in ones; at the specification's pace it was 41 and
// 24, all in the two records of under 300 nights. The price is 0.05 and 0.07 % in CRPS.
// Nights 1 to 14, from 1,600 starts: 79, 79, 80 and 82
// %. Paces from 0.03 and 0.07 to 0.04 and 0.10 do as well.
struct LearningPace {
  double least_news = 0.03;        // weight of the newest error in the variance
  double stretch_step = 0.08;      // of the logarithm of either side's width
  double after_dark_start = 0.95;  // times the first spread, at dark and late
  bool operator==(const LearningPace&) const = default;
};
// The specification's own, which its check values need.
inline constexpr LearningPace kPublishedPace{
    .least_news = 0.015, .stretch_step = 0.05, .after_dark_start = 1.0};

struct MomentPrior {
  // The pressure's are 0 in both: nothing is believed of it until it was seen to matter,
  // and without it nothing changes.
  FeatureArray mean{};          // kelvins of fall for a unit of each feature
  FeatureArray fill{};          // stands in for a feature that is not known
  double noise_variance = 1.0;  // of the fall about its forecast, in kelvins squared
  double first_spread = 1.0;    // in kelvins, until nights have been seen
  LearningPace pace{};
  bool operator==(const MomentPrior&) const = default;
};

struct Prior {
  std::array<MomentPrior, kMoments.size()> moments;  // by index_of(Moment)
  bool operator==(const Prior&) const = default;
};

// Learned on hourly records of 40 open places, in temperate and continental climates.
const Prior& open_air_prior();

// For glass, film and frames. Learned on two polytunnels in one winter: better than the
// open air's in the first weeks, and provisional.
const Prior& covered_prior();

// Reads a prior from JSON: an object of the four moments by name, each with `mean` and
// `fill` (7 numbers, or 9 for dark and late), `s2` and `sigma0`. Other keys are passed
// over; the pace is the default. The error names the key.
Result<Prior> prior_from_json(std::string_view text);

}  // namespace rimeward
