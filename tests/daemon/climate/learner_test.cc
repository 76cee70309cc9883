#include "daemon/climate/learner.h"

#include <array>
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

// The share of the first nights whose error lies within the 80 % range, where errors are
// normal and of this spread. The middles of ten equal parts of a normal curve, from
// Abramowitz & Stegun (1964), table 26.5 (from memory), in an order without a pattern.
double share_held(const MomentPrior& prior, int nights, double spread) {
  constexpr std::array kErrors{0.1257,  -1.0364, 1.6449,  -0.3853, 0.6745,
                               -0.1257, 1.0364,  -0.6745, 0.3853,  -1.6449};
  Learner learner(Moment::kDusk, prior);
  int held = 0;
  for (int night = 0; night < nights; ++night) {
    const double error = spread * kErrors.at(static_cast<std::size_t>(night) % 10);
    const auto range = learner.spread(0.0);
    const bool below = error < -1.2816 * range.below.degrees;
    const bool above = error > 1.2816 * range.above.degrees;
    if (!below && !above) ++held;
    learner.learn_error({{error}, 0.0, below, above});
  }
  return static_cast<double>(held) / nights;
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

TEST_CASE("a range of twice the errors' width holds its share within a hundred nights") {
  const MomentPrior& prior = dusk_prior();
  MomentPrior published = prior;
  published.pace = kPublishedPace;
  const double spread = prior.first_spread / 2.0;
  const double held = share_held(prior, 100, spread);
  CHECK(held >= 0.77);
  CHECK(held <= 0.83);
  CHECK(share_held(published, 100, spread) > held);
  CHECK(share_held(prior, 300, prior.first_spread) == doctest::Approx(0.8).epsilon(0.02));
}

TEST_CASE("a range that a night lay beyond widens by the step of its pace") {
  MomentPrior prior = dusk_prior();
  for (const LearningPace& pace : {LearningPace{}, kPublishedPace}) {
    prior.pace = pace;
    Learner learner(Moment::kDusk, prior);
    learner.learn_error({{-9.0}, 0.0, true, false});
    CHECK(std::log(learner.learned().stretch_below) ==
          doctest::Approx(0.9 * pace.stretch_step));
    CHECK(std::log(learner.learned().stretch_above) ==
          doctest::Approx(-0.1 * pace.stretch_step));
  }
}

TEST_CASE("ranges after dark start a little narrower than the prior's spread") {
  MomentPrior prior = open_air_prior().moments[index_of(Moment::kLate)];
  CHECK(Learner(Moment::kLate, prior).spread(0.0).above.degrees ==
        doctest::Approx(0.95 * 1.47));
  prior.pace = kPublishedPace;
  CHECK(Learner(Moment::kLate, prior).spread(0.0).above.degrees == doctest::Approx(1.47));
}

TEST_CASE("a first night goes half-way to lows such as tonight's will be") {
  for (const Moment moment : kMoments) {
    CAPTURE(name_of(moment));
    const MomentPrior& prior = open_air_prior().moments[index_of(moment)];
    const Learner learner(moment, prior);
    FeatureArray features = prior.fill;
    features[1] = 2.4;  // 24 degrees
    const FeatureArray supposed = learner.without_lows(features);
    CHECK(supposed[4] == doctest::Approx(supposed[5]).epsilon(0.02));
    FeatureArray steady = features;
    steady[4] = steady[5] = 2.0 * supposed[4] - features[4];
    CHECK(learner.fall(steady).degrees == doctest::Approx(10.0 * steady[4]));
    for (const std::size_t other : {0U, 1U, 2U, 3U, 6U}) {
      CHECK(supposed.at(other) == features.at(other));
    }
  }
}

TEST_CASE("a first night supposes no low beyond what can be") {
  Learner learner(Moment::kAfternoon, covered_prior().moments[0]);
  FeatureArray features = learner.fill();
  features[1] = 30.0;
  CHECK(learner.without_lows(features)[4] == doctest::Approx((features[4] + 3.0) / 2.0));
  // Where a kelvin of fall is expected for each of the last, no steady fall exists.
  FeatureArray lows{};
  lows[4] = lows[5] = 1.0;
  for (int night = 0; night < 400; ++night)
    learner.learn(lows, {30.0});
  CHECK(std::isfinite(learner.without_lows(features)[4]));
}

TEST_CASE("a first night's variance is double before dark") {
  for (const Moment moment : kMoments) {
    CAPTURE(name_of(moment));
    const MomentPrior& prior = open_air_prior().moments[index_of(moment)];
    const Learner learner(moment, prior);
    const double known = learner.spread(learner.leverage(prior.fill)).below.degrees;
    const double first =
        learner.spread(learner.leverage_without_lows(prior.fill)).below.degrees;
    const bool dark = moment == Moment::kDark || moment == Moment::kLate;
    CHECK(first * first == doctest::Approx((dark ? 1.0 : 2.0) * known * known));
  }
}

TEST_CASE("one freak night moves the spread no further than nine times the variance") {
  Learner learner(Moment::kDusk, dusk_prior());
  const double before = learner.learned().variance;
  learner.learn_error({{40.0}, 0.0, false, false});
  CHECK(learner.learned().variance == doctest::Approx(before * (1.0 + 8.0 / 16.0)));
}

TEST_CASE("a pressure that never came changes no forecast") {
  for (const Moment moment : kMoments) {
    CAPTURE(name_of(moment));
    Learner learner(moment, open_air_prior().moments[index_of(moment)]);
    const Learned unseen = learner.learned();
    const FeatureArray fill = learner.fill();
    for (int night = 0; night < 40; ++night)
      learner.learn(fill, {3.0});
    for (std::size_t i = plain_feature_count(moment); i < feature_count(moment); ++i) {
      CHECK(fill.at(i) == 0.0);
      CHECK(learner.learned().coefficients.at(i) == 0.0);
      const std::size_t own = packed_size(i) + i;
      CHECK(learner.learned().precision.at(own) ==
            doctest::Approx(unseen.precision.at(own)));
    }
  }
}

TEST_CASE("a learner comes to what the pressure is worth at its place") {
  Learner learner(Moment::kDusk, dusk_prior());
  FeatureArray features = dusk_prior().fill;
  for (int night = 0; night < 200; ++night) {
    features[7] = std::sin(night * 1.3);
    features[8] = std::cos(night * 2.1);
    learner.learn(features, {5.0 + 1.0 * features[7] - 0.5 * features[8]});
  }
  CHECK(std::abs(learner.learned().coefficients[7] - 1.0) < 0.25);
  CHECK(std::abs(learner.learned().coefficients[8] + 0.5) < 0.25);
}

TEST_CASE("what was saved before the pressure counted goes on as if it had been there") {
  for (const Moment moment : kMoments) {
    CAPTURE(name_of(moment));
    const MomentPrior& prior = open_air_prior().moments[index_of(moment)];
    Learner learner(moment, prior);
    for (int night = 0; night < 20; ++night)
      learner.learn(prior.fill, {3.0});
    Learned earlier = learner.learned();
    for (std::size_t i = plain_feature_count(moment); i < feature_count(moment); ++i) {
      earlier.precision.at(packed_size(i) + i) = 0.0;
    }
    const auto restored = Learner::restore(moment, prior, earlier);
    REQUIRE(restored);
    FeatureArray features = prior.fill;
    features.at(feature_count(moment) - 1) = 1.0;
    CHECK(restored->fall(features) == learner.fall(features));
    CHECK(restored->leverage(features) == doctest::Approx(learner.leverage(features)));
  }
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
