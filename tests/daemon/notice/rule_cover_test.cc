#include <cmath>

#include <doctest/doctest.h>

#include "daemon/notice/rule.h"
#include "tests/support/situation.h"

using namespace rimeward;
using namespace rimeward::testing;

TEST_CASE(
    "a likely frost at dusk asks for fleece, with low, range, layers and deadline") {
  Evening evening;
  evening.forecast("2026-04-12T17:03:00Z", -0.3, 1.5);
  const auto findings = find_cover(evening.look("2026-04-12T17:05:00Z"));
  REQUIRE(findings.size() == 1);
  const Finding& finding = findings.front();
  CHECK(finding.holds);
  CHECK(finding.subject == "north-frame");
  CHECK(finding.title == "Fleece the north frame tonight");
  // Odds below 1.0 are Phi(1.3 / 1.5) = 0.807, with one layer Phi(0.3 / 1.5) = 0.579 and
  // with two Phi(-0.7 / 1.5) = 0.320: all that there are, and still over 0.2.
  CHECK(finding.layers == 2);
  CHECK(finding.body ==
        "2 layers, on while it still holds the day's warmth. That may not be enough: "
        "bring in what is tender. Low -0.3 °C expected, 8 nights in 10 from -2.2 °C to "
        "1.6 °C; odds 81 % of going below 1.0 °C. Outlook at 19:03; a forecast, not a "
        "promise.");
  // Half an hour before sunset at 20:03, in daylight.
  CHECK(finding.deadline == at("2026-04-12T17:30:00Z"));
  CHECK(*finding.deadline < evening.night.sunset);
}

TEST_CASE("one layer is asked for where it brings the odds under the place's limit") {
  Evening evening;
  evening.forecast("2026-04-12T17:03:00Z", 1.5, 1.0);  // 0.309; with one layer 0.067
  const auto findings = find_cover(evening.look("2026-04-12T17:05:00Z"));
  REQUIRE(findings.size() == 1);
  CHECK(findings.front().layers == 1);
  CHECK(findings.front().body.starts_with("One layer, on while"));
}

TEST_CASE("odds at the cost-loss limit hold, half of them linger, less is well") {
  const auto at_odds = [](double z) {
    Evening evening;
    evening.forecast("2026-04-12T17:03:00Z", 1.0 + z, 1.0);
    return find_cover(evening.look("2026-04-12T17:05:00Z"));
  };
  CHECK(at_odds(0.84).front().holds);        // 0.200
  CHECK_FALSE(at_odds(0.85).front().holds);  // 0.198
  CHECK_FALSE(at_odds(1.28).empty());        // 0.1003
  CHECK(at_odds(1.29).empty());              // 0.0985
}

TEST_CASE("a cover that is enough silences the rule, one that is not asks for more") {
  Evening evening;
  evening.forecast("2026-04-12T17:03:00Z", 0.3, 1.0);  // needs two layers
  evening.cover_layers = 1;
  const auto findings = find_cover(evening.look("2026-04-12T17:05:00Z"));
  REQUIRE(findings.size() == 1);
  CHECK(findings.front().title == "Add fleece to the north frame tonight");
  CHECK(findings.front().body.starts_with("2 layers in all (1 on now)"));
  evening.cover_layers = 2;
  CHECK(find_cover(evening.look("2026-04-12T17:05:00Z")).empty());
}

TEST_CASE("nobody is sent out for a forecast three hours after sunset") {
  Evening evening;
  evening.forecast("2026-04-12T20:03:00Z", -2.0, 1.0);
  CHECK(find_cover(evening.look("2026-04-12T21:02:00Z")).front().holds);
  CHECK_FALSE(find_cover(evening.look("2026-04-12T21:03:00Z")).front().holds);
  CHECK(find_cover(evening.look("2026-04-13T04:38:00Z")).empty());
}

TEST_CASE("an outlook that comes after dark gives time to act and says to take a light") {
  Evening evening;
  evening.forecast("2026-04-12T20:03:00Z", -2.0, 1.0);
  const Finding finding = find_cover(evening.look("2026-04-12T20:05:00Z")).front();
  CHECK(finding.deadline == at("2026-04-12T20:50:00Z"));
  CHECK(finding.body.find("take a light, and mind ice underfoot") != std::string::npos);
}

TEST_CASE("an outlook too late for the deadline before sunset gives one of its own") {
  Evening winter;
  winter.forecast("2026-04-12T17:20:00Z", -2.0, 1.0);
  const Finding finding = find_cover(winter.look("2026-04-12T17:25:00Z")).front();
  CHECK(finding.deadline == at("2026-04-12T18:05:00Z"));
}

TEST_CASE("who is told after the deadline gets a later one, not one that has passed") {
  Evening evening;
  evening.forecast("2026-04-12T17:03:00Z", 1.5, 1.0);
  CHECK(find_cover(evening.look("2026-04-12T17:15:00Z")).front().deadline ==
        at("2026-04-12T17:30:00Z"));
  evening.recents.air.insert(at("2026-04-12T18:05:00Z"), 0.9);  // worse: told again
  const Finding late = find_cover(evening.look("2026-04-12T18:10:00Z")).front();
  CHECK(late.deadline == at("2026-04-12T18:55:00Z"));
  CHECK(late.body.find("take a light") != std::string::npos);
}

TEST_CASE("a place without fleece asks to bring plants in, one without plants nothing") {
  Evening evening;
  evening.forecast("2026-04-12T17:03:00Z", -2.0, 1.0);
  evening.place.fleece_layers = 0;
  const Finding finding = find_cover(evening.look("2026-04-12T17:05:00Z")).front();
  CHECK(finding.title == "Shelter the plants in the north frame tonight");
  CHECK(finding.layers == 0);
  evening.place.keep_above.reset();
  CHECK(find_cover(evening.look("2026-04-12T17:05:00Z")).empty());
}

TEST_CASE("doubled odds and a further layer are each a whole step of urgency") {
  const auto urgency = [](double low, int fleece) {
    Evening evening;
    evening.place.fleece_layers = fleece;
    evening.forecast("2026-04-12T17:03:00Z", low, 1.0);
    return find_cover(evening.look("2026-04-12T17:05:00Z")).front().urgency;
  };
  // Phi(-0.84) = 0.2005 and Phi(-0.25) = 0.4013, both asking for all there is.
  CHECK(urgency(1.25, 1) - urgency(1.84, 1) == doctest::Approx(1.0).epsilon(0.01));
  CHECK(urgency(0.5, 2) - urgency(0.5, 1) == doctest::Approx(10.0));
}

TEST_CASE("a low that was measured already counts whatever was forecast") {
  Evening evening;
  evening.forecast("2026-04-12T17:03:00Z", 6.0, 1.0);
  evening.recents.air.insert(at("2026-04-12T19:00:00Z"), 0.9);
  CHECK(find_cover(evening.look("2026-04-12T19:05:00Z")).front().holds);
}

TEST_CASE("without an outlook there is nothing to say") {
  const Evening evening;
  CHECK(find_cover(evening.look("2026-04-12T17:05:00Z")).empty());
}

TEST_CASE("a fall that outruns the outlook is told, in whole degrees") {
  Evening evening;
  evening.forecast("2026-04-12T17:03:00Z", 3.0, 1.2);  // 5 % below keep-above
  CHECK(find_cover(evening.look("2026-04-12T17:05:00Z")).empty());
  // At dusk it was 8 degrees; two and a half hours later it is far below its course.
  evening.cooling("2026-04-12T19:30:00Z", 2.4, -2.0);
  const auto findings = find_cover(evening.look("2026-04-12T19:30:00Z"));
  REQUIRE(findings.size() == 1);
  CHECK(findings.front().holds);
  CHECK(findings.front().body.find("It has cooled faster since: now about 0 °C is "
                                   "expected.") != std::string::npos);
}

TEST_CASE("what an outlook rests on is said: another place, a regional forecast") {
  Evening evening;
  evening.forecast("2026-04-12T17:03:00Z", -0.3, 1.5);
  evening.outlooks.back().opinion = Celsius{-2.0};
  CHECK(find_cover(evening.look("2026-04-12T17:05:00Z"))
            .front()
            .body.find("Outlook at 19:03, with the -2.0 °C that was forecast for the "
                       "region in it;") != std::string::npos);
  evening.outlooks.back().opinion.reset();
  evening.outlooks.back().rests_on = "yard";
  CHECK(
      find_cover(evening.look("2026-04-12T17:05:00Z"))
          .front()
          .body.find("Outlook at 19:03, by the yard and how the two usually differ, for "
                     "its sensor is "
                     "silent;") != std::string::npos);
}
