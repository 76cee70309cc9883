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

// All that is learned, to be saved and restored; the prior is not part of it.
struct Learned {
  // The lower triangle of the precision matrix, row by row.
  std::array<double, kMostFeatures*(kMostFeatures + 1) / 2> precision{};
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
  // Goes on from what was saved. Nothing when no learner can have saved it.
  static std::optional<Learner> restore(Moment moment, const MomentPrior& prior,
                                        const Learned& learned);

  const Learned& learned() const { return learned_; }
  const FeatureArray& fill() const { return prior_.fill; }

  // The fall, from the temperature now, that the features let expect.
  Kelvins fall(const FeatureArray& features) const;
  // How far from all earlier nights the features are: 0 in their midst.
  double leverage(const FeatureArray& features) const;
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

  std::size_t count_;
  MomentPrior prior_;
  Learned learned_;
};

}  // namespace rimeward
