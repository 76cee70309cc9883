// What one moment has learned of a place: a Bayesian linear regression of the night's
// fall on the moment's features, and how wide its errors are. Plain values, no locking.
//
// The regression is the conjugate one (Gaussian prior, known noise), kept as precision
// matrix and information vector, with exponential forgetting: each night everything
// learned fades by half a percent towards the prior, not towards nothing, so the matrix
// stays well-conditioned for ever. The errors' variance is a running mean of squared
// errors, outliers capped; the two sides of the range widen or shrink by a small step a
// night so that a tenth of the nights lies beyond each. Method and constants are this
// project's own, measured on open hourly records.

#pragma once

#include <array>
#include <cstddef>
#include <optional>

#include "daemon/climate/prior.h"
#include "sensors/units.h"

namespace rimeward {

// Numbers in the lower triangle of a matrix of that many rows.
constexpr std::size_t packed_size(std::size_t rows) {
  return rows * (rows + 1) / 2;
}

// All that is learned, to be saved and restored; the prior is not part of it.
struct Learned {
  // The lower triangle of the precision matrix, row by row.
  std::array<double, packed_size(kMostFeatures)> precision{};
  FeatureArray information{};  // precision matrix times coefficients
  FeatureArray coefficients{};
  double variance = 1.0;  // of the errors, in kelvins squared
  double weight = 1.0;    // nights that the variance rests on, the prior's among them
  double stretch_below = 1.0;
  double stretch_above = 1.0;
  bool operator==(const Learned&) const = default;
};

class Learner {
 public:
  Learner(Moment moment, const MomentPrior& prior);
  // Goes on from what was saved, also before the pressure was among the features (its
  // numbers are then 0). Nothing when no learner can have saved it.
  static std::optional<Learner> restore(Moment moment, const MomentPrior& prior,
                                        const Learned& learned);

  const Learned& learned() const { return learned_; }
  const FeatureArray& fill() const { return prior_.fill; }

  // The fall, from the temperature now, that the features let expect.
  Kelvins fall(const FeatureArray& features) const;
  // How far from all earlier nights the features are: 0 in their midst.
  double leverage(const FeatureArray& features) const;

  // In a place's first night no low is known, and with the plain fills, which are other
  // places', the outlooks before dark err by half as much again as a night later. Better
  // is to go half-way from the fills to lows that were as tonight's will be: the two
  // features that rest on lows become the mean of their fill and of the fall that then
  // comes out. Before dark the variance is doubled besides, which comes as leverage.
  // Nothing is learned from such a night, so that all later lows are those of the
  // method's specification; the second errs 6 and 5 % more for that before dark. Measured
  // on the first night from each of 1,575 noons in ten records, with priors that never
  // saw the climate: errors of 3.01, 2.63, 1.53 and 1.26 K at the four moments
  // (3.20, 2.79, 1.55 and 1.28 with fills alone), and 81, 84, 81 and 86 % in the range
  // (61, 63, 84 and 89 % with fills alone, nothing doubled).
  FeatureArray without_lows(FeatureArray features) const;
  double leverage_without_lows(const FeatureArray& features) const;

  // One standard error of the forecast on either side.
  struct Spread {
    Kelvins below;
    Kelvins above;
  };
  Spread spread(double leverage) const;

  void learn(const FeatureArray& features, Kelvins fall);

  // How a forecast of some night did.
  struct Error {
    Kelvins error;
    double leverage;  // at issue
    bool below_range;
    bool above_range;
  };
  void learn_error(const Error& error);

 private:
  double shrinkage() const;  // the prior's precision of each coefficient

  Moment moment_;
  std::size_t count_;
  MomentPrior prior_;
  Learned learned_;
};

}  // namespace rimeward
