#include "daemon/climate/fao_regression.h"

#include <cstddef>

namespace rimeward {
namespace {

constexpr std::size_t kFewestNights = 3;

// Below this share of the product of the two variances a determinant is rounding error.
constexpr double kDegenerate = 1e-9;

struct Means {
  double air = 0.0;
  double dew_point = 0.0;
  double low = 0.0;
};

// Sums of squares and products about the means.
struct Moments {
  double air_air = 0.0;
  double dew_dew = 0.0;
  double air_dew = 0.0;
  double air_low = 0.0;
  double dew_low = 0.0;
};

Means means_of(std::span<const FaoNight> nights) {
  Means sums;
  for (const FaoNight& night : nights) {
    sums.air += night.air.degrees;
    sums.dew_point += night.dew_point.degrees;
    sums.low += night.low.degrees;
  }
  const auto count = static_cast<double>(nights.size());
  return {sums.air / count, sums.dew_point / count, sums.low / count};
}

Moments moments_of(std::span<const FaoNight> nights, const Means& means) {
  Moments sums;
  for (const FaoNight& night : nights) {
    const double air = night.air.degrees - means.air;
    const double dew = night.dew_point.degrees - means.dew_point;
    const double low = night.low.degrees - means.low;
    sums.air_air += air * air;
    sums.dew_dew += dew * dew;
    sums.air_dew += air * dew;
    sums.air_low += air * low;
    sums.dew_low += dew * low;
  }
  return sums;
}

FaoCoefficients through_means(double a, double b, const Means& means) {
  return {a, b, means.low - a * means.air - b * means.dew_point};
}

// Whether values with this sum of squares about their mean are all one value.
bool is_flat(double squares, double mean, std::size_t count) {
  return squares <= kDegenerate * (1.0 + mean * mean) * static_cast<double>(count);
}

}  // namespace

std::optional<FaoCoefficients> fit_two_step(std::span<const FaoNight> nights) {
  if (nights.size() < kFewestNights) return std::nullopt;
  const Means means = means_of(nights);
  const Moments sums = moments_of(nights, means);
  if (is_flat(sums.air_air, means.air, nights.size()) ||
      is_flat(sums.dew_dew, means.dew_point, nights.size())) {
    return std::nullopt;
  }
  const double a = sums.air_low / sums.air_air;
  const double b = (sums.dew_low - a * sums.air_dew) / sums.dew_dew;
  return through_means(a, b, means);
}

std::optional<FaoCoefficients> fit_joint(std::span<const FaoNight> nights) {
  if (nights.size() < kFewestNights) return std::nullopt;
  const Means means = means_of(nights);
  const Moments sums = moments_of(nights, means);
  if (is_flat(sums.air_air, means.air, nights.size()) ||
      is_flat(sums.dew_dew, means.dew_point, nights.size())) {
    return std::nullopt;
  }
  const double determinant = sums.air_air * sums.dew_dew - sums.air_dew * sums.air_dew;
  if (determinant <= kDegenerate * sums.air_air * sums.dew_dew) return std::nullopt;
  const double a =
      (sums.air_low * sums.dew_dew - sums.dew_low * sums.air_dew) / determinant;
  const double b =
      (sums.dew_low * sums.air_air - sums.air_low * sums.air_dew) / determinant;
  return through_means(a, b, means);
}

Celsius predict(const FaoCoefficients& coefficients, Celsius air, Celsius dew_point) {
  return {coefficients.a * air.degrees + coefficients.b * dew_point.degrees +
          coefficients.c};
}

}  // namespace rimeward
