#include "daemon/climate/learner.h"

#include <algorithm>
#include <cmath>

#include <Eigen/Cholesky>
#include <Eigen/Core>

namespace rimeward {
namespace {

constexpr double kPriorVariance = 0.30;  // of every coefficient
constexpr double kKept = 0.995;          // of what was learned, from night to night
constexpr double kFaded = 1.0 - kKept;
constexpr double kPriorNights = 15.0;  // that the prior's spread counts for
constexpr double kOutlier = 9.0;       // times the variance: more counts as this
constexpr double kBeyond = 0.1;  // share of nights to lie beyond each side of the range
constexpr double kLeastStretch = 0.5;
constexpr double kMostStretch = 2.0;

// Of a place's first night.
constexpr std::size_t kLastLow = 4;  // features that rest on lows
constexpr std::size_t kUsualLow = 5;
constexpr double kFeatureUnit = 10.0;  // kelvins of each
constexpr double kLeastRise = -10.0;   // kelvins of the air above the low: the bounds
constexpr double kMostRise = 30.0;     // of features.cc
constexpr double kSteadyShare = 0.5;
constexpr double kMostPull = 0.9;     // kelvins of fall for one of the lows'
constexpr double kLowsUnknown = 2.0;  // times the variance, before dark

constexpr int kMost = static_cast<int>(kMostFeatures);
using Matrix = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, 0, kMost, kMost>;
using Vector = Eigen::Matrix<double, Eigen::Dynamic, 1, 0, kMost, 1>;

Eigen::Map<const Eigen::VectorXd> as_vector(const FeatureArray& numbers,
                                            std::size_t count) {
  return {numbers.data(), static_cast<Eigen::Index>(count)};
}

std::size_t packed(std::size_t row, std::size_t column) {
  return row * (row + 1) / 2 + column;
}

Eigen::LLT<Matrix> factored(const Learned& learned, std::size_t count) {
  const auto size = static_cast<Eigen::Index>(count);
  Matrix lower = Matrix::Zero(size, size);
  for (std::size_t row = 0; row < count; ++row) {
    for (std::size_t column = 0; column <= row; ++column) {
      lower(static_cast<Eigen::Index>(row), static_cast<Eigen::Index>(column)) =
          learned.precision.at(packed(row, column));
    }
  }
  return Eigen::LLT<Matrix>{lower};
}

double stretched(double stretch, bool beyond, double step) {
  const double by = step * ((beyond ? 1.0 : 0.0) - kBeyond);
  return std::clamp(stretch * std::exp(by), kLeastStretch, kMostStretch);
}

bool is_stretch(double value) {
  return value >= kLeastStretch && value <= kMostStretch;
}

}  // namespace

Learner::Learner(Moment moment, const MomentPrior& prior)
    : moment_(moment), count_(feature_count(moment)), prior_(prior) {
  for (std::size_t i = 0; i < count_; ++i) {
    learned_.precision.at(packed(i, i)) = shrinkage();
    learned_.information.at(i) = shrinkage() * prior.mean.at(i);
  }
  learned_.coefficients = prior.mean;
  const double spread =
      prior.first_spread * (is_after_dark(moment_) ? prior.pace.after_dark_start : 1.0);
  learned_.variance = spread * spread;
  learned_.weight = kPriorNights;
}

std::optional<Learner> Learner::restore(Moment moment, const MomentPrior& prior,
                                        const Learned& learned) {
  const auto all_finite = [](const auto& numbers) {
    return std::ranges::all_of(numbers, [](double x) { return std::isfinite(x); });
  };
  if (!all_finite(learned.precision) || !all_finite(learned.information) ||
      !all_finite(learned.coefficients)) {
    return std::nullopt;
  }
  const bool sound = std::isfinite(learned.variance) && learned.variance > 0.0 &&
                     std::isfinite(learned.weight) && learned.weight >= 0.0 &&
                     is_stretch(learned.stretch_below) &&
                     is_stretch(learned.stretch_above);
  if (!sound) return std::nullopt;
  Learner learner(moment, prior);
  learner.learned_ = learned;
  for (std::size_t i = plain_feature_count(moment); i < learner.count_; ++i) {
    double& own = learner.learned_.precision.at(packed(i, i));
    if (own == 0.0) own = learner.shrinkage();
  }
  if (factored(learner.learned_, learner.count_).info() != Eigen::Success) {
    return std::nullopt;
  }
  return learner;
}

Kelvins Learner::fall(const FeatureArray& features) const {
  double sum = 0.0;
  for (std::size_t i = 0; i < count_; ++i) {
    sum += features.at(i) * learned_.coefficients.at(i);
  }
  return {sum};
}

double Learner::leverage(const FeatureArray& features) const {
  const Vector x = as_vector(features, count_);
  return x.dot(factored(learned_, count_).solve(x));
}

FeatureArray Learner::without_lows(FeatureArray features) const {
  const FeatureArray filled = features;
  features.at(kLastLow) = features.at(kUsualLow) = 0.0;
  const double pull =
      (learned_.coefficients.at(kLastLow) + learned_.coefficients.at(kUsualLow)) /
      kFeatureUnit;
  const double steady = fall(features).degrees / (1.0 - std::min(pull, kMostPull));
  const double feature = std::clamp(steady, kLeastRise, kMostRise) / kFeatureUnit;
  for (const std::size_t i : {kLastLow, kUsualLow}) {
    features.at(i) = std::lerp(filled.at(i), feature, kSteadyShare);
  }
  return features;
}

double Learner::leverage_without_lows(const FeatureArray& features) const {
  const double known = 1.0 + leverage(features);
  return (is_after_dark(moment_) ? 1.0 : kLowsUnknown) * known - 1.0;
}

Learner::Spread Learner::spread(double leverage) const {
  const double error = std::sqrt(learned_.variance * (1.0 + leverage));
  return {{learned_.stretch_below * error}, {learned_.stretch_above * error}};
}

void Learner::learn(const FeatureArray& features, Kelvins fall) {
  for (std::size_t row = 0; row < count_; ++row) {
    for (std::size_t column = 0; column <= row; ++column) {
      double& entry = learned_.precision.at(packed(row, column));
      const double prior = row == column ? shrinkage() : 0.0;
      entry = kKept * entry + kFaded * prior + features.at(row) * features.at(column);
    }
    double& entry = learned_.information.at(row);
    entry = kKept * entry + kFaded * shrinkage() * prior_.mean.at(row) +
            features.at(row) * fall.degrees;
  }
  const Vector information = as_vector(learned_.information, count_);
  const Vector solved = factored(learned_, count_).solve(information);
  std::ranges::copy(solved, learned_.coefficients.begin());
}

void Learner::learn_error(const Error& error) {
  const double squared =
      error.error.degrees * error.error.degrees / (1.0 + error.leverage);
  const double news = std::max(1.0 / (learned_.weight + 1.0), prior_.pace.least_news);
  learned_.variance = (1.0 - news) * learned_.variance +
                      news * std::min(squared, kOutlier * learned_.variance);
  learned_.weight += 1.0;
  const double step = prior_.pace.stretch_step;
  learned_.stretch_below = stretched(learned_.stretch_below, error.below_range, step);
  learned_.stretch_above = stretched(learned_.stretch_above, error.above_range, step);
}

double Learner::shrinkage() const {
  return prior_.noise_variance / kPriorVariance;
}

}  // namespace rimeward
