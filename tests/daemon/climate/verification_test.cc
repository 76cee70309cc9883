#include "daemon/climate/verification.h"

#include <cmath>
#include <numbers>
#include <vector>

#include <doctest/doctest.h>

namespace rimeward {
namespace {

// Outlooks of which only the odds matter; the low came below 0 or did not.
std::vector<VerifiedOutlook> with_odds(const std::vector<double>& odds,
                                       const std::vector<bool>& came) {
  std::vector<VerifiedOutlook> outlooks;
  for (std::size_t i = 0; i < odds.size(); ++i) {
    outlooks.push_back({{0.0}, {-1.0}, {1.0}, {odds[i]}, {came[i] ? -0.5 : 0.5}, {0.0}});
  }
  return outlooks;
}

double brier_of(const std::vector<double>& odds, const std::vector<bool>& came) {
  return *scores_of(with_odds(odds, came), {0.0}, {0.2}).brier;
}

Outlook outlook_of(double low, double spread_below, double spread_above) {
  Outlook outlook;
  outlook.low = {low};
  outlook.spread_below = {spread_below};
  outlook.spread_above = {spread_above};
  return outlook;
}

// The score by its definition: the squared differences of the odds from what came, summed
// over thresholds.
double summed_score(const Outlook& outlook, double came) {
  constexpr double kStep = 0.001;
  double sum = 0.0;
  for (double at = came - 40.0; at < came + 40.0; at += kStep) {
    const double middle = at + kStep / 2;
    const double miss =
        odds_below(outlook, {middle}).value - (middle >= came ? 1.0 : 0.0);
    sum += miss * miss * kStep;
  }
  return sum;
}

}  // namespace

// Finley's tornado forecasts (1884), as in Wilks, Statistical Methods in the Atmospheric
// Sciences: published as 0.549 and 0.720.
TEST_CASE("Finley's tornadoes have their published scores") {
  const YesNoTable finley{.caught = 28, .missed = 23, .false_calls = 72, .quiet = 2680};
  CHECK(probability_of_detection(finley).value() ==
        doctest::Approx(0.549).epsilon(0.001));
  CHECK(false_alarm_ratio(finley).value() == doctest::Approx(0.720).epsilon(0.001));
}

// A year of daily rain forecasts, the example of the WWRP/WGNE Joint Working Group on
// Forecast Verification Research (CAWCR's web page): published as 0.78 and 0.32. The
// numbers are from memory.
TEST_CASE("the rain forecasts of the verification group have their published scores") {
  const YesNoTable rain{.caught = 82, .missed = 23, .false_calls = 38, .quiet = 222};
  CHECK(std::abs(probability_of_detection(rain).value() - 0.78) < 0.006);
  CHECK(std::abs(false_alarm_ratio(rain).value() - 0.32) < 0.006);
}

TEST_CASE("a share of nothing is undefined and not zero") {
  const YesNoTable no_cold_night{.quiet = 30};
  CHECK_FALSE(probability_of_detection(no_cold_night));
  CHECK_FALSE(false_alarm_ratio(no_cold_night));
  const YesNoTable never_called{.missed = 5, .quiet = 25};
  CHECK(probability_of_detection(never_called) == 0.0);
  CHECK_FALSE(false_alarm_ratio(never_called));
  const OutlookScores none = scores_of({}, {0.0}, {0.2});
  CHECK(none.nights == 0);
  CHECK_FALSE(none.mean_absolute_error);
  CHECK_FALSE(none.share_in_range);
  CHECK_FALSE(none.mean_range);
  CHECK_FALSE(none.bias);
  CHECK_FALSE(none.mean_ranked);
  CHECK_FALSE(none.brier);
  CHECK(reliability({}, {0.0}).empty());
}

// Definition: Brier (1950), Mon. Weather Rev. 78, 1-3; own cases.
TEST_CASE("the Brier score is the mean squared miss of the odds") {
  CHECK(
      brier_of({0.9, 0.1, 0.8, 0.3, 0.0, 1.0}, {true, false, false, true, false, true}) ==
      doctest::Approx(0.191667).epsilon(1e-5));
  CHECK(brier_of({0.5, 0.5, 0.5, 0.5}, {true, false, true, false}) == 0.25);
  CHECK(brier_of({1.0, 0.0}, {true, false}) == 0.0);
  CHECK(brier_of({0.0, 1.0}, {true, false}) == 1.0);
}

TEST_CASE("scores tell errors, range and calls of the same nights") {
  const std::vector<VerifiedOutlook> outlooks{
      // 1 K off, inside
      {{2.0}, {0.0}, {3.0}, {0.10}, {1.0}, {0.5}},
      // 2 K off, on the edge: inside; caught
      {{-1.0}, {-3.0}, {1.0}, {0.70}, {-3.0}, {1.0}},
      // 1.5 K off to the cold, outside; a false call
      {{1.0}, {-1.0}, {2.0}, {0.20}, {2.5}, {0.5}},
      // 4 K off, outside; missed, at 0 exactly
      {{4.0}, {2.0}, {6.0}, {0.01}, {0.0}, {3.0}}};
  const OutlookScores scores = scores_of(outlooks, {0.0}, {0.2});
  CHECK(scores.nights == 4);
  CHECK(scores.mean_absolute_error->degrees == doctest::Approx(8.5 / 4));
  CHECK(scores.bias->degrees == doctest::Approx((1.0 + 2.0 - 1.5 + 4.0) / 4));
  CHECK(scores.mean_ranked->degrees == doctest::Approx(5.0 / 4));
  CHECK(scores.share_in_range == 0.5);
  CHECK(scores.mean_range->degrees == doctest::Approx(14.0 / 4));
  CHECK(scores.calls ==
        YesNoTable{.caught = 1, .missed = 1, .false_calls = 1, .quiet = 1});
}

// (sqrt 2 - 1) / sqrt pi where the mean came, and 0.6024 a standard deviation off it: by
// the formula for the normal curve of Gneiting et al. (2005), Mon. Weather Rev. 133, eq.
// 5, from memory.
TEST_CASE("the ranked score of a normal outlook is the published formula's") {
  const Outlook outlook = outlook_of(1.0, 1.0, 1.0);
  CHECK(ranked_score(outlook, {1.0}).degrees ==
        doctest::Approx((std::numbers::sqrt2 - 1) * std::numbers::inv_sqrtpi));
  CHECK(ranked_score(outlook, {2.0}).degrees == doctest::Approx(0.60244));
  CHECK(ranked_score(outlook, {0.0}).degrees == doctest::Approx(0.60244));
  CHECK(ranked_score(outlook_of(1.0, 1e-9, 1e-9), {4.0}).degrees == doctest::Approx(3.0));
}

TEST_CASE("the ranked score of unequal sides and of a running low is the summed one") {
  Outlook outlook = outlook_of(2.0, 1.5, 0.8);
  for (const double came : {-3.0, 1.2, 2.0, 2.5, 5.0}) {
    CAPTURE(came);
    CHECK(ranked_score(outlook, {came}).degrees ==
          doctest::Approx(summed_score(outlook, came)).epsilon(0.001));
  }
  for (const double running : {2.0, 2.6, 4.0}) {
    outlook.running_low = Celsius{running};
    for (const double came : {-3.0, 1.2, 2.0, running}) {
      CAPTURE(running);
      CAPTURE(came);
      CHECK(ranked_score(outlook, {came}).degrees ==
            doctest::Approx(summed_score(outlook, came)).epsilon(0.002));
    }
  }
}

TEST_CASE("an outlook is verified by its own odds of the threshold") {
  Outlook outlook = outlook_of(1.0, 1.0, 1.0);
  outlook.low10 = {-0.2816};
  outlook.low90 = {2.2816};
  const VerifiedOutlook one = verified(outlook, {1.0}, {0.5});
  CHECK(one.low == Celsius{1.0});
  CHECK(one.low10 == Celsius{-0.2816});
  CHECK(one.low90 == Celsius{2.2816});
  CHECK(one.odds.value == doctest::Approx(0.5));
  CHECK(one.came == Celsius{0.5});
  CHECK(one.ranked == ranked_score(outlook, {0.5}));
}

// Definition: BSS = 1 - BS / BS of the baseline.
TEST_CASE("skill is the share of the baseline's Brier score that is done away with") {
  CHECK(brier_skill(0.05, 0.2) == doctest::Approx(0.75));
  CHECK(brier_skill(0.2, 0.2) == doctest::Approx(0.0));
  CHECK(brier_skill(0.3, 0.2) == doctest::Approx(-0.5));
  CHECK_FALSE(brier_skill(0.1, 0.0));
}

TEST_CASE("reliability sets odds beside how many of their nights came, edges above") {
  const auto bins = reliability(with_odds({0.0, 0.04, 0.2, 0.3, 0.35, 0.95, 1.0},
                                          {false, false, true, false, false, true, true}),
                                {0.0});
  REQUIRE(bins.size() == 3);
  CHECK(bins[0].from == Odds{0.0});
  CHECK(bins[0].below == Odds{0.05});
  CHECK(bins[0].nights == 2);
  CHECK(bins[0].mean.value == doctest::Approx(0.02));
  CHECK(bins[0].share_came == 0.0);
  CHECK(bins[1].from == Odds{0.2});
  CHECK(bins[1].nights == 3);
  CHECK(bins[1].mean.value == doctest::Approx(0.85 / 3));
  CHECK(bins[1].share_came == doctest::Approx(1.0 / 3));
  CHECK(bins[2].from == Odds{0.95});
  CHECK(bins[2].nights == 2);
  CHECK(bins[2].mean.value == doctest::Approx(0.975));
  CHECK(bins[2].share_came == 1.0);
}

}  // namespace rimeward
