#include <doctest/doctest.h>

#include "daemon/notice/rule.h"
#include "tests/support/situation.h"

using namespace rimeward;
using namespace rimeward::testing;

TEST_CASE("cooling that crosses keep-above within ninety minutes at night is danger") {
  Evening evening;
  evening.forecast("2026-04-12T17:03:00Z", 3.0, 1.6);
  // By the square root of the time since sunset, 6.95 h: 2.2 - 1.2 * 2 * sqrt(6.95) *
  // (sqrt(6.95 + x) - sqrt(6.95)) is 1.0 for x = 1.036 h.
  evening.cooling("2026-04-13T01:00:00Z", 2.2, -1.2);
  const auto findings = find_danger(evening.look("2026-04-13T01:00:00Z"));
  REQUIRE(findings.size() == 1);
  const Finding& finding = findings.front();
  CHECK(finding.holds);
  CHECK(finding.title == "Cover the north frame now");
  CHECK(finding.body ==
        "2.2 °C at 03:00, falling 1.2 °C an hour: going on like this it will pass below "
        "1.0 °C in about 62 minutes, near 04:02. The last outlook, at 19:03, was 3.0 °C. "
        "Take a light, mind ice underfoot, and climb no ladder.");
  CHECK(finding.deadline == at("2026-04-13T02:00:00Z"));
}

TEST_CASE("the steep fall just after sunset is not taken to go on as a line") {
  Evening evening;
  // A line would meet 1.0 in 70 minutes; the square root, half an hour after sunset, in
  // 111: 3.5 / (3 * 2 * sqrt(0.5)) more than sqrt(0.5), squared.
  evening.cooling("2026-04-12T18:33:00Z", 4.5, -3.0);
  const auto findings = find_danger(evening.look("2026-04-12T18:35:00Z"));
  CHECK((findings.empty() || !findings.front().holds));
}

TEST_CASE("what the outlook holds for hardly possible must be half an hour away") {
  Evening evening;
  evening.forecast("2026-04-12T20:03:00Z", 1.9, 0.6);
  evening.outlooks.back().air = Celsius{2.9};  // hardly a fall was expected any more
  evening.cooling("2026-04-13T01:00:00Z", 2.2, -1.2);
  CHECK_FALSE(find_danger(evening.look("2026-04-13T01:00:00Z")).front().holds);
  Evening near;
  near.forecast("2026-04-12T20:03:00Z", 1.9, 0.6);
  near.outlooks.back().air = Celsius{2.9};
  near.cooling("2026-04-13T01:00:00Z", 1.5, -1.2);
  CHECK(find_danger(near.look("2026-04-13T01:00:00Z")).front().holds);
}

TEST_CASE("an outlook that the readings have overtaken holds nobody back") {
  Evening evening;
  evening.forecast("2026-04-12T20:03:00Z", 4.0, 1.0);
  evening.cooling("2026-04-13T01:00:00Z", 2.2, -1.2);
  CHECK(find_danger(evening.look("2026-04-13T01:00:00Z")).front().holds);
}

TEST_CASE("slower cooling lingers, and a warm or steady place is well") {
  Evening slow;
  slow.cooling("2026-04-13T01:00:00Z", 3.0, -1.0);  // a good two hours
  REQUIRE_FALSE(find_danger(slow.look("2026-04-13T01:00:00Z")).empty());
  CHECK_FALSE(find_danger(slow.look("2026-04-13T01:00:00Z")).front().holds);
  Evening steady;
  steady.cooling("2026-04-13T01:00:00Z", 3.0, -0.1);
  CHECK(find_danger(steady.look("2026-04-13T01:00:00Z")).empty());
}

TEST_CASE("a place below its keep-above is in danger even while it warms") {
  Evening evening;
  evening.cooling("2026-04-13T01:00:00Z", 0.4, 0.5);
  const auto findings = find_danger(evening.look("2026-04-13T01:00:00Z"));
  REQUIRE(findings.size() == 1);
  CHECK(findings.front().holds);
  CHECK(findings.front().body.starts_with(
      "0.4 °C at 03:00: at or below the 1.0 °C that its plants must keep above."));
}

TEST_CASE("danger is for the night: not before sunset, not from sunrise on") {
  Evening evening;
  evening.cooling("2026-04-12T18:00:00Z", 1.2, -2.0);
  CHECK(find_danger(evening.look("2026-04-12T18:02:00Z")).empty());
  CHECK_FALSE(find_danger(evening.look("2026-04-12T18:03:00Z")).empty());
  Evening morning;
  morning.cooling("2026-04-13T04:30:00Z", 1.2, -2.0);
  CHECK(find_danger(morning.look("2026-04-13T04:38:00Z")).empty());
}

TEST_CASE("nobody is woken for what they were told in the evening") {
  Evening evening;
  evening.forecast("2026-04-12T17:03:00Z", 0.0, 1.0);
  evening.cooling("2026-04-13T01:00:00Z", 2.0, -1.5);
  NoticeRow told;
  told.kind = "cover";
  told.state = NoticeState::kDelivered;
  told.spoke_at = at("2026-04-12T17:15:00Z");
  evening.cover_notice = told;
  CHECK_FALSE(find_danger(evening.look("2026-04-13T01:00:00Z")).front().holds);

  SUBCASE("but they are when the night turns out worse than told") {
    evening.cooling("2026-04-13T02:00:00Z", -1.5, -1.5);  // the range ended at -1.3
    CHECK(find_danger(evening.look("2026-04-13T02:00:00Z")).front().holds);
  }
  SUBCASE("and when what they put on does not hold") {
    evening.cover_notice->state = NoticeState::kDone;
    evening.cover_layers = 1;
    const Finding finding = find_danger(evening.look("2026-04-13T01:00:00Z")).front();
    CHECK(finding.holds);
    CHECK(finding.title == "Put another layer on the north frame now");
  }
  SUBCASE("and when the notice never reached anybody") {
    evening.cover_notice->state = NoticeState::kRaised;
    evening.cover_notice->leaves_at = evening.cover_notice->spoke_at;
    CHECK_FALSE(find_danger(evening.look("2026-04-13T01:00:00Z")).front().holds);
    evening.cover_notice->failures = 3;
    CHECK(find_danger(evening.look("2026-04-13T01:00:00Z")).front().holds);
  }
  SUBCASE("and when it was held for the quiet hours of every route") {
    evening.cover_notice->state = NoticeState::kLapsed;
    evening.cover_notice->leaves_at = at("2026-04-13T04:30:00Z");
    CHECK(find_danger(evening.look("2026-04-13T01:00:00Z")).front().holds);
  }
}

TEST_CASE("who sheltered the plants of a place without fleece is not woken for it") {
  Evening evening;
  evening.place.fleece_layers = 0;
  evening.forecast("2026-04-12T17:03:00Z", 0.0, 1.0);
  evening.cooling("2026-04-13T01:00:00Z", 2.0, -1.5);
  NoticeRow told;
  told.kind = "cover";
  told.state = NoticeState::kDone;
  told.spoke_at = at("2026-04-12T17:15:00Z");
  evening.cover_notice = told;
  CHECK_FALSE(find_danger(evening.look("2026-04-13T01:00:00Z")).front().holds);
}

TEST_CASE("a mark that the last reading was about to pass has been passed by now") {
  Evening evening;
  evening.forecast("2026-04-12T17:03:00Z", 1.0, 1.0);
  evening.cooling("2026-04-13T01:00:00Z", 1.2, -1.2);
  const Finding finding = find_danger(evening.look("2026-04-13T01:20:00Z")).front();
  CHECK(finding.body.starts_with(
      "1.2 °C at 03:00, falling 1.2 °C an hour: by now it must be below 1.0 °C."));
  CHECK_FALSE(finding.deadline);
}

TEST_CASE("with all its fleece on, a place asks to bring plants in") {
  Evening evening;
  evening.cover_layers = 2;
  evening.cooling("2026-04-13T01:00:00Z", 1.5, -1.0);
  CHECK(find_danger(evening.look("2026-04-13T01:00:00Z")).front().title ==
        "Bring tender plants in from the north frame now");
}

TEST_CASE("an hour earlier is worse, and so is having passed the mark") {
  const auto urgency = [](double air, double per_hour) {
    Evening evening;
    evening.cooling("2026-04-13T01:00:00Z", air, per_hour);
    return find_danger(evening.look("2026-04-13T01:00:00Z")).front().urgency;
  };
  CHECK(urgency(1.5, -2.0) - urgency(2.5, -1.5) > 1.0);  // a quarter of an hour, and one
  CHECK(urgency(0.9, -1.0) - urgency(1.1, -1.0) > 9.0);
}

TEST_CASE("readings older than an hour and a quarter are no ground for an alarm") {
  Evening evening;
  evening.cooling("2026-04-12T23:40:00Z", 1.2, -2.0);
  CHECK(find_danger(evening.look("2026-04-13T01:00:00Z")).empty());
}

TEST_CASE("a place whose sensor is silent is warned by the place that stands in for it") {
  Evening evening;
  evening.forecast("2026-04-12T17:03:00Z", 3.0, 1.6);
  CHECK(find_danger(evening.look("2026-04-13T01:00:00Z")).empty());
  Evening yard;
  yard.place.name = "Yard";
  yard.cooling("2026-04-13T01:00:00Z", 1.2, -1.2);
  evening.stand_in = StandIn{&yard.place, &yard.recents, Kelvins{1.0}};
  const auto findings = find_danger(evening.look("2026-04-13T01:00:00Z"));
  REQUIRE(findings.size() == 1);
  CHECK(findings.front().holds);
  CHECK(findings.front().title == "Cover the north frame now");
  CHECK(findings.front().body.starts_with(
      "Its sensor is silent; by the yard and how the two usually differ, 2.2 °C at "
      "03:00, falling 1.2 °C an hour: going on like this it will pass below 1.0 °C in "
      "about 62 minutes"));
}

TEST_CASE("danger says what is on, and to shut a place that was left open") {
  Evening evening;
  evening.cover_layers = 1;
  evening.cooling("2026-04-13T01:00:00Z", 0.4, 0.5);
  Situation situation = evening.look("2026-04-13T01:00:00Z");
  CHECK(find_danger(situation).front().body ==
        "0.4 °C at 03:00: at or below the 1.0 °C that its plants must keep above. One "
        "layer on now. Take a light, mind ice underfoot, and climb no ladder.");
  situation.places.front().opening = OpeningRow{
      .place = "north-frame", .since = at("2026-04-12T08:00:00Z"), .open = true};
  CHECK(find_danger(situation).front().body.find("above. It is open: shut it first. One "
                                                 "layer on now.") != std::string::npos);
}

TEST_CASE("in German a danger notice has its title, its minutes and a decimal comma") {
  Evening evening;
  evening.forecast("2026-04-12T17:03:00Z", 3.0, 1.6);
  evening.cooling("2026-04-13T01:00:00Z", 2.2, -1.2);
  Situation situation = evening.look("2026-04-13T01:00:00Z");
  situation.wording = german(evening.zone);
  const Finding finding = find_danger(situation).front();
  CHECK(finding.title == "North frame jetzt mit Vlies abdecken");
  CHECK(
      finding.body ==
      "2,2 °C um 03:00 Uhr, fallend um 1,2 °C je Stunde: geht es so weiter, sind 1,0 °C "
      "in etwa 62 Minuten unterschritten, gegen 04:02 Uhr. Der letzte Ausblick, von "
      "19:03 Uhr, war 3,0 °C. Licht mitnehmen, auf Glätte achten, auf keine Leiter "
      "steigen.");
}
