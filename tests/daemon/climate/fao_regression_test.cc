#include "daemon/climate/fao_regression.h"

#include <array>
#include <cmath>
#include <span>
#include <vector>

#include <doctest/doctest.h>

namespace rimeward {
namespace {

// The method and its ten radiation-frost nights are those of Snyder & de Melo-Abreu
// (2005), Frost Protection, vol. 1, FAO, ch. 5. The coefficients below were recomputed
// from the nights: those remembered from the book (0.494, 0.027, -5.872) do not come from
// them by either fit.
constexpr std::array<FaoNight, 10> kNights{{{{3.2}, {-4.2}, {-3.1}},
                                            {{0.8}, {-8.8}, {-5.0}},
                                            {{0.2}, {-6.5}, {-6.3}},
                                            {{2.6}, {-6.2}, {-5.4}},
                                            {{4.4}, {-6.1}, {-4.0}},
                                            {{5.2}, {2.6}, {-2.5}},
                                            {{2.7}, {-0.7}, {-4.8}},
                                            {{1.2}, {-1.7}, {-5.0}},
                                            {{4.5}, {-1.2}, {-4.4}},
                                            {{5.6}, {0.1}, {-3.3}}}};
constexpr double kTolerance = 0.0005;

FaoNights nights_of(std::span<const FaoNight> all) {
  FaoNights nights;
  for (const FaoNight& night : all)
    nights.learn(night);
  return nights;
}

double mean_residual(const FaoCoefficients& fit) {
  double sum = 0.0;
  for (const FaoNight& night : kNights) {
    sum += (night.low - predict(fit, night.air, night.dew_point)).degrees;
  }
  return sum / kNights.size();
}

}  // namespace

TEST_CASE("the two-step fit gives the ten nights' coefficients") {
  const auto fit = nights_of(kNights).fit_two_step();
  REQUIRE(fit);
  CHECK(std::abs(fit->a - 0.50281) < kTolerance);
  CHECK(std::abs(fit->b - 0.02647) < kTolerance);
  CHECK(std::abs(fit->c - -5.82199) < kTolerance);
  CHECK(std::abs(mean_residual(*fit)) < 1e-9);
  // First night: -4.32, by the same recomputation.
  CHECK(std::abs(predict(*fit, {3.2}, {-4.2}).degrees - -4.32) < 0.006);
}

TEST_CASE("the joint fit gives other coefficients for the same ten nights") {
  const auto fit = nights_of(kNights).fit_joint();
  REQUIRE(fit);
  CHECK(std::abs(fit->a - 0.4473) < kTolerance);
  CHECK(std::abs(fit->b - 0.04507) < kTolerance);
  CHECK(std::abs(fit->c - -5.5924) < kTolerance);
  CHECK(std::abs(mean_residual(*fit)) < 1e-9);
}

TEST_CASE("two nights are too few for either fit") {
  const auto two = std::span{kNights}.first(2);
  CHECK_FALSE(nights_of(two).fit_two_step());
  CHECK_FALSE(nights_of(two).fit_joint());
  CHECK_FALSE(nights_of({}).fit_two_step());
}

TEST_CASE("nights that are all alike in one thing cannot be fitted") {
  const std::vector<FaoNight> same_air{
      {{4.1}, {1.0}, {0.0}}, {{4.1}, {2.0}, {1.0}}, {{4.1}, {3.3}, {1.5}}};
  CHECK_FALSE(nights_of(same_air).fit_two_step());
  CHECK_FALSE(nights_of(same_air).fit_joint());
  const std::vector<FaoNight> same_dew_point{
      {{1.0}, {0.7}, {0.0}}, {{2.0}, {0.7}, {1.0}}, {{3.3}, {0.7}, {1.5}}};
  CHECK_FALSE(nights_of(same_dew_point).fit_two_step());
  CHECK_FALSE(nights_of(same_dew_point).fit_joint());
}

TEST_CASE("only the joint fit refuses air and dew point on one line") {
  const std::vector<FaoNight> one_line{
      {{1.0}, {0.0}, {0.0}}, {{2.0}, {1.0}, {1.2}}, {{3.0}, {2.0}, {1.5}}};
  CHECK(nights_of(one_line).fit_two_step());
  CHECK_FALSE(nights_of(one_line).fit_joint());
}

}  // namespace rimeward
