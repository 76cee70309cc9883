#include "daemon/climate/verification.h"

#include <vector>

#include <doctest/doctest.h>

namespace rimeward {
namespace {

// Outlooks of which only the odds matter; the low came below 0 or did not.
std::vector<VerifiedOutlook> with_odds(const std::vector<double>& odds,
                                       const std::vector<bool>& came) {
  std::vector<VerifiedOutlook> outlooks;
  for (std::size_t i = 0; i < odds.size(); ++i) {
    outlooks.push_back({{0.0}, {-1.0}, {1.0}, {odds[i]}, {came[i] ? -0.5 : 0.5}});
  }
  return outlooks;
}

double brier_of(const std::vector<double>& odds, const std::vector<bool>& came) {
  return *scores_of(with_odds(odds, came), {0.0}, {0.2}).brier;
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
  CHECK_FALSE(none.brier);
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
      {{2.0}, {0.0}, {3.0}, {0.10}, {1.0}},     // 1 K off, inside
      {{-1.0}, {-3.0}, {1.0}, {0.70}, {-3.0}},  // 2 K off, on the edge: inside; caught
      {{1.0}, {-1.0}, {2.0}, {0.20}, {2.5}},    // 1.5 K off, outside; a false call
      {{4.0}, {2.0}, {6.0}, {0.01}, {0.0}}};    // 4 K off, outside; missed, at 0 exactly
  const OutlookScores scores = scores_of(outlooks, {0.0}, {0.2});
  CHECK(scores.nights == 4);
  CHECK(scores.mean_absolute_error->degrees == doctest::Approx(8.5 / 4));
  CHECK(scores.share_in_range == 0.5);
  CHECK(scores.mean_range->degrees == doctest::Approx(14.0 / 4));
  CHECK(scores.calls ==
        YesNoTable{.caught = 1, .missed = 1, .false_calls = 1, .quiet = 1});
}

}  // namespace rimeward
