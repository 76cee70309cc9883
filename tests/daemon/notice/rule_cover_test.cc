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
  CHECK(
      finding.body ==
      "2 layers, on before dark, while it still holds the day's warmth. That may not be "
      "enough: bring in what is tender. Low -0.3 °C expected, 8 nights in 10 from -2.2 "
      "°C to 1.6 °C; odds 81 % of going below 1.0 °C. Outlook at 19:03; a forecast, not "
      "a promise.");
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
  CHECK(findings.front().body.starts_with("One layer, on before dark"));
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
  CHECK(finding.body.find("It will be dark: take a light, mind ice underfoot, and climb "
                          "no ladder.") != std::string::npos);
  CHECK(finding.body.starts_with("2 layers, on while it still holds some of the"));
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
            .body.ends_with("The -2.0 °C that was forecast for the region is in it."));
  evening.outlooks.back().opinion.reset();
  evening.outlooks.back().rests_on = "yard";
  CHECK(find_cover(evening.look("2026-04-12T17:05:00Z"))
            .front()
            .body.ends_with("It is reckoned by the yard and how the two usually differ, "
                            "for its sensor is silent."));
  evening.outlooks.back().rests_on.clear();
  evening.outlooks.back().humidity_known = false;
  CHECK(find_cover(evening.look("2026-04-12T17:05:00Z"))
            .front()
            .body.ends_with("There was no humidity reading to go by."));
}

TEST_CASE("an evening that goes as its outlook had it asks for no cover after dusk") {
  Evening evening;
  evening.forecast("2026-04-12T17:03:00Z", 2.0, 1.0);  // 0.159 below keep-above
  const NightCourse course = course_of(evening.outlooks.back(), std::nullopt);
  for (Instant now = at("2026-04-12T17:10:00Z"); now < at("2026-04-12T21:03:00Z");
       now += std::chrono::minutes{10}) {
    evening.recents.air.insert(now, air_at(course, now).degrees);
    Situation situation = evening.look("2026-04-12T17:10:00Z");
    situation.now = now;
    situation.places.front().course = evening.course(now);
    const auto findings = find_cover(situation);
    CAPTURE(evening.zone.time_text(now));
    CHECK((findings.empty() || !findings.front().holds));
  }
}

TEST_CASE("a gardener who wants to be done before dusk is told to cover by then") {
  Evening evening;
  evening.forecast("2026-04-12T14:23:00Z", -0.3, 1.5);
  evening.outlooks.back().air = Celsius{15};
  const auto told_at = [&](std::string_view now) {
    Situation situation = evening.look(now);
    situation.hours.evening_by = std::chrono::hours{18};
    return find_cover(situation).front();
  };
  const Finding finding = told_at("2026-04-12T14:33:00Z");
  CHECK(finding.deadline == at("2026-04-12T16:00:00Z"));
  CHECK(finding.body.starts_with("2 layers, on by when you want to be done."));
  // Ten minutes before that is too late for it, and before dark is left.
  const Finding late = told_at("2026-04-12T15:50:00Z");
  CHECK(late.deadline == at("2026-04-12T17:30:00Z"));
  CHECK(late.body.starts_with("2 layers, on before dark,"));
}

TEST_CASE(
    "what becomes known after the gardener's evening is told until three hours on") {
  Evening evening;
  evening.forecast("2026-04-12T20:03:00Z", -2.0, 1.0);
  const auto told_at = [&](std::string_view now) {
    Situation situation = evening.look(now);
    situation.hours.evening_by = std::chrono::hours{18};
    return find_cover(situation).front();
  };
  CHECK(told_at("2026-04-12T20:05:00Z").holds);
  CHECK(told_at("2026-04-12T20:05:00Z").deadline == at("2026-04-12T20:50:00Z"));
  CHECK(told_at("2026-04-12T20:05:00Z").send_until == at("2026-04-12T21:03:00Z"));
  CHECK_FALSE(told_at("2026-04-12T21:03:00Z").holds);
}

TEST_CASE("a cold afternoon is to be covered before the place has lost its warmth") {
  Evening evening;
  evening.forecast("2026-04-12T14:23:00Z", -1.0, 1.5);
  // From 5 to -1; at 4, three above keep-above, a sixth of the way: by 0.35 of the fall
  // an hour, 0.903 of it before sunset, at 15:28.
  evening.outlooks.back().air = Celsius{5};
  const Finding finding = find_cover(evening.look("2026-04-12T14:33:00Z")).front();
  CHECK(finding.deadline == at("2026-04-12T15:25:00Z"));
  CHECK(finding.body.starts_with("2 layers, on before it has lost the day's warmth."));
}

TEST_CASE("an open place is to be shut before it is covered") {
  Evening evening;
  evening.forecast("2026-04-12T17:03:00Z", 1.5, 1.0);
  const auto body_where = [&](bool open) {
    Situation situation = evening.look("2026-04-12T17:05:00Z");
    situation.places.front().opening = OpeningRow{
        .place = "north-frame", .since = at("2026-04-12T08:00:00Z"), .open = open};
    return find_cover(situation).front().body;
  };
  CHECK(body_where(true).starts_with("It is open: shut it first. One layer, on"));
  CHECK(body_where(false).starts_with("One layer, on"));
}

TEST_CASE("in German a cover notice has its title, a decimal comma and every ground") {
  Evening evening;
  evening.forecast("2026-04-12T20:03:00Z", -0.3, 1.5);
  evening.outlooks.back().opinion = Celsius{-2.0};
  Situation situation = evening.look("2026-04-12T20:05:00Z");
  situation.wording = german(evening.zone);
  const Finding finding = find_cover(situation).front();
  CHECK(finding.title == "North frame heute Nacht mit Vlies abdecken");
  CHECK(
      finding.body ==
      "2 Lagen auflegen, solange noch etwas von der Tageswärme da ist. Das reicht "
      "vielleicht nicht: Empfindliches hereinholen. Tiefstwert -0,3 °C erwartet, in 8 "
      "von 10 Nächten -2,2 °C bis 1,6 °C; mit 81 % Wahrscheinlichkeit unter 1,0 °C. "
      "Ausblick von 22:03 Uhr; eine Vorhersage, kein Versprechen. Die Vorhersage für "
      "die Gegend, -2,0 °C, ist eingerechnet. Es wird dunkel sein: Licht mitnehmen, auf "
      "Glätte achten, auf keine Leiter steigen.");
}
