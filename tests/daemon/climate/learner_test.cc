#include "daemon/climate/learner.h"

#include <cmath>

#include <doctest/doctest.h>

namespace rimeward {
namespace {

const MomentPrior& dusk_prior() {
  return open_air_prior().moments[index_of(Moment::kDusk)];
}

FeatureArray night_features(int night) {
  FeatureArray features{1.0};
  for (std::size_t i = 1; i < feature_count(Moment::kDusk); ++i) {
    features.at(i) = std::sin(night * 1.7 * static_cast<double>(i));
  }
  return features;
}

}  // namespace

TEST_CASE("a learner that has seen nothing forecasts by its prior") {
  const Learner learner(Moment::kDusk, dusk_prior());
  const FeatureArray one{1.0};
  CHECK(learner.fall(one).degrees == doctest::Approx(3.0032));
  // The prior variance of each coefficient is 0.30, the noise's 4.607.
  CHECK(learner.leverage(one) == doctest::Approx(0.30 / 4.607));
  CHECK(learner.spread(0.0).below.degrees == doctest::Approx(2.15));
}

TEST_CASE("a learner comes to the fall that a place shows night after night") {
  Learner learner(Moment::kDusk, dusk_prior());
  for (int night = 0; night < 400; ++night) {
    const FeatureArray features = night_features(night);
    learner.learn(features, {8.0 - 2.0 * features[3]});
  }
  const FeatureArray features = night_features(1000);
  // The prior, 5 K away, keeps pulling a little: half a percent a night.
  CHECK(std::abs(learner.fall(features).degrees - (8.0 - 2.0 * features[3])) < 0.5);
  CHECK(learner.leverage(features) < 0.1);
}

TEST_CASE("years of one same night leave the regression sound") {
  Learner learner(Moment::kLate, open_air_prior().moments[index_of(Moment::kLate)]);
  FeatureArray same{};
  same.fill(1.0);
  for (int night = 0; night < 20'000; ++night)
    learner.learn(same, {4.0});
  CHECK(learner.fall(same).degrees == doctest::Approx(4.0).epsilon(0.01));
  // In a direction never seen the prior still holds.
  FeatureArray other{};
  other[1] = 1.0;
  other[2] = -1.0;
  CHECK(std::isfinite(learner.fall(other).degrees));
  CHECK(learner.leverage(other) == doctest::Approx(2 * 0.30 / 2.120));
}

TEST_CASE("the range widens on the side that lows fall beyond, within bounds") {
  Learner learner(Moment::kDusk, dusk_prior());
  for (int night = 0; night < 200; ++night) {
    learner.learn_error({{-3.0}, 0.1, true, false});
  }
  CHECK(learner.learned().stretch_below == 2.0);
  CHECK(learner.learned().stretch_above == 0.5);
}

TEST_CASE("one freak night moves the spread no further than nine times the variance") {
  Learner learner(Moment::kDusk, dusk_prior());
  const double before = learner.learned().variance;
  learner.learn_error({{40.0}, 0.0, false, false});
  CHECK(learner.learned().variance == doctest::Approx(before * (1.0 + 8.0 / 16.0)));
}

TEST_CASE("what no learner can have saved is not restored") {
  const Learner sound(Moment::kDusk, dusk_prior());
  Learned learned = sound.learned();
  REQUIRE(Learner::restore(Moment::kDusk, dusk_prior(), learned));
  learned.variance = 0.0;
  CHECK_FALSE(Learner::restore(Moment::kDusk, dusk_prior(), learned));
  learned = sound.learned();
  learned.information[2] = std::nan("");
  CHECK_FALSE(Learner::restore(Moment::kDusk, dusk_prior(), learned));
  learned = sound.learned();
  learned.precision[0] = -1.0;  // not positive definite
  CHECK_FALSE(Learner::restore(Moment::kDusk, dusk_prior(), learned));
}

}  // namespace rimeward
