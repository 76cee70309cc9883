// What the night-low outlook believes of a place before it has seen a night there.
// Thread-safe: plain values and constants.

#pragma once

#include <array>
#include <string_view>

#include "daemon/climate/moment.h"
#include "sensors/result.h"

namespace rimeward {

struct MomentPrior {
  FeatureArray mean{};          // kelvins of fall for a unit of each feature
  FeatureArray fill{};          // stands in for a feature that is not known
  double noise_variance = 1.0;  // of the fall about its forecast, in kelvins squared
  double first_spread = 1.0;    // in kelvins, until nights have been seen
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
// over. The error names the key.
Result<Prior> prior_from_json(std::string_view text);

}  // namespace rimeward
