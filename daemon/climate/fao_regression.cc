#include "daemon/climate/fao_regression.h"

namespace rimeward {
namespace {

constexpr double kFewestNights = 3.0;

// Below this share of the product of the two variances a determinant is rounding error.
constexpr double kDegenerate = 1e-9;

// Whether values with this sum of squares about their mean are all one value.
bool is_flat(double squares, double mean, double count) {
  return squares <= kDegenerate * (1.0 + mean * mean) * count;
}

}  // namespace

// Welford (1962), Technometrics 4, 419-420: sums about means that move with each night.
void FaoNights::learn(const FaoNight& night) {
  count_ += 1.0;
  const double air = night.air.degrees - air_;
  const double dew = night.dew_point.degrees - dew_;
  const double low = night.low.degrees - low_;
  air_ += air / count_;
  dew_ += dew / count_;
  low_ += low / count_;
  const double of_others = (count_ - 1.0) / count_;
  air_air_ += air * air * of_others;
  dew_dew_ += dew * dew * of_others;
  air_dew_ += air * dew * of_others;
  air_low_ += air * low * of_others;
  dew_low_ += dew * low * of_others;
}

bool FaoNights::can_be_fitted() const {
  return count_ >= kFewestNights && !is_flat(air_air_, air_, count_) &&
         !is_flat(dew_dew_, dew_, count_);
}

FaoCoefficients FaoNights::through_means(double a, double b) const {
  return {a, b, low_ - a * air_ - b * dew_};
}

std::optional<FaoCoefficients> FaoNights::fit_two_step() const {
  if (!can_be_fitted()) return std::nullopt;
  const double a = air_low_ / air_air_;
  return through_means(a, (dew_low_ - a * air_dew_) / dew_dew_);
}

std::optional<FaoCoefficients> FaoNights::fit_joint() const {
  if (!can_be_fitted()) return std::nullopt;
  const double determinant = air_air_ * dew_dew_ - air_dew_ * air_dew_;
  if (determinant <= kDegenerate * air_air_ * dew_dew_) return std::nullopt;
  return through_means((air_low_ * dew_dew_ - dew_low_ * air_dew_) / determinant,
                       (dew_low_ * air_air_ - air_low_ * air_dew_) / determinant);
}

Celsius predict(const FaoCoefficients& coefficients, Celsius air, Celsius dew_point) {
  return {coefficients.a * air.degrees + coefficients.b * dew_point.degrees +
          coefficients.c};
}

}  // namespace rimeward
