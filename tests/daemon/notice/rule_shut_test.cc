#include <string>

#include <doctest/doctest.h>

#include "daemon/notice/rule.h"
#include "tests/support/situation.h"

using namespace rimeward;
using namespace rimeward::testing;

namespace {

// The afternoon of 12 April 2026 in the glasshouse, which is opened at 22 °C and must
// keep above 5 °C. Noon 11:22, sunset 18:03 (UTC), so that two fifths of the afternoon
// have passed after 14:02; local time is two hours later.
struct Afternoon {
  Evening day;
  DaySpan sun{.sunrise = at("2026-04-12T04:41:00Z"),
              .noon = at("2026-04-12T11:22:00Z"),
              .sunset = at("2026-04-12T18:03:00Z")};

  explicit Afternoon(double high) {
    day.place.id = "glasshouse";
    day.place.name = "Glasshouse";
    day.place.vent_above = Celsius{22};
    day.place.keep_above = Celsius{5};
    day.recents.air.insert(at("2026-04-12T11:00:00Z"), high);
  }

  Situation situation(std::string_view now) const {
    Situation situation = day.look(now);
    situation.day = sun;
    return situation;
  }

  std::vector<Finding> look(std::string_view now) const {
    return find_shut(situation(now));
  }

  std::vector<Finding> look_where(bool open, std::string_view now) const {
    Situation said = situation(now);
    said.places.front().opening = OpeningRow{
        .place = "glasshouse", .since = at("2026-04-12T09:00:00Z"), .open = open};
    return find_shut(said);
  }
};

}  // namespace

TEST_CASE("a place that cools after a warm day is to be shut while it holds warmth") {
  Afternoon warm(27);
  warm.day.forecast("2026-04-12T14:23:00Z", 8.0, 2.0);
  warm.day.cooling("2026-04-12T15:30:00Z", 19.5, -3.0);
  const auto findings = warm.look("2026-04-12T15:30:00Z");
  REQUIRE(findings.size() == 1);
  const Finding& finding = findings.front();
  CHECK(finding.holds);
  CHECK(finding.subject == "glasshouse");
  // 1.5 °C above 18 °C at 3 °C an hour: half an hour.
  CHECK(finding.deadline == at("2026-04-12T16:00:00Z"));
  CHECK(finding.title == "Shut the glasshouse");
  CHECK(finding.body ==
        "19.5 °C at 17:30, falling 3.0 °C an hour. Shut it at 18.0 °C, or by sunset at "
        "20:03 whatever it has, to keep the day's warmth.");
  CHECK(finding.ends_at == at("2026-04-12T19:03:00Z"));
}

TEST_CASE("a place is shut warmer where the night may be too cold for its plants") {
  Afternoon warm(27);
  warm.day.forecast("2026-04-12T14:23:00Z", 5.5, 2.0);  // Phi(-0.25) = 0.401 below 5
  warm.day.cooling("2026-04-12T15:30:00Z", 22.5, -3.0);
  const Finding finding = warm.look("2026-04-12T15:30:00Z").front();
  CHECK(finding.deadline == at("2026-04-12T16:00:00Z"));
  CHECK(finding.body ==
        "22.5 °C at 17:30, falling 3.0 °C an hour. Shut it at 21.0 °C, or by sunset at "
        "20:03 whatever it has, to keep the day's warmth. Tonight may be too cold: odds "
        "40 % of going below 5.0 °C by the outlook of 16:23; a forecast, not a promise.");
  warm.day.outlooks.clear();
  warm.day.forecast("2026-04-12T14:23:00Z", 8.0, 2.0);
  CHECK(warm.look("2026-04-12T15:30:00Z").empty());
}

TEST_CASE("a mild night needs no shutting") {
  Afternoon warm(27);
  warm.day.forecast("2026-04-12T14:23:00Z", 14.0, 2.0);  // Phi(-2) = 0.02 below 10
  warm.day.cooling("2026-04-12T17:30:00Z", 15.0, -3.0);
  CHECK(warm.look("2026-04-12T17:30:00Z").empty());
}

TEST_CASE("a place that was not warm today was not opened") {
  const auto look_after = [](double high) {
    Afternoon day(high);
    day.day.cooling("2026-04-12T16:00:00Z", 16.0, -2.0);
    return day.look("2026-04-12T16:00:00Z");
  };
  CHECK(look_after(20.0).size() == 1);
  CHECK(look_after(19.9).empty());
}

TEST_CASE("a place below its mark is to be shut now, outlook or none") {
  Afternoon warm(27);
  warm.day.cooling("2026-04-12T16:00:00Z", 15.0, -2.0);
  const Finding finding = warm.look("2026-04-12T16:05:00Z").front();
  CHECK(finding.title == "Shut the glasshouse now");
  CHECK_FALSE(finding.deadline);
  CHECK(finding.body ==
        "15.0 °C at 18:00, falling 2.0 °C an hour: below the 18.0 °C to shut it at, to "
        "keep "
        "the day's warmth.");
}

TEST_CASE("a place that stays warm is to be shut by sunset") {
  Afternoon warm(30);
  warm.day.cooling("2026-04-12T17:00:00Z", 25.0, 0.0);
  CHECK(warm.look("2026-04-12T17:15:00Z").empty());
  const Finding finding = warm.look("2026-04-12T17:18:00Z").front();
  CHECK(finding.title == "Shut the glasshouse");
  CHECK(finding.deadline == at("2026-04-12T18:00:00Z"));
  CHECK(finding.deadline == at("2026-04-12T18:00:00Z"));
}

TEST_CASE("a cloud early in the afternoon shuts nothing, nor is it told in the night") {
  Afternoon warm(27);
  warm.day.cooling("2026-04-12T14:00:00Z", 17.0, -8.0);
  CHECK(warm.look("2026-04-12T14:02:00Z").empty());
  CHECK(warm.look("2026-04-12T14:03:00Z").size() == 1);
  Afternoon late(27);
  late.day.cooling("2026-04-12T19:00:00Z", 12.0, -2.0);
  CHECK(late.look("2026-04-12T19:02:00Z").size() == 1);
  CHECK(late.look("2026-04-12T19:03:00Z").empty());
}

TEST_CASE("a place with nothing to keep warm, or no vent temperature, is not shut") {
  Afternoon warm(27);
  warm.day.cooling("2026-04-12T16:00:00Z", 15.0, -2.0);
  CHECK(warm.look("2026-04-12T16:00:00Z").size() == 1);
  Afternoon empty = warm;
  empty.day.place.keep_above.reset();
  CHECK(empty.look("2026-04-12T16:00:00Z").empty());
  Afternoon bed = warm;
  bed.day.place.vent_above.reset();
  CHECK(bed.look("2026-04-12T16:00:00Z").empty());
}

TEST_CASE("a silent sensor asks for no shutting") {
  Afternoon warm(27);
  warm.day.cooling("2026-04-12T14:00:00Z", 15.0, -2.0);
  CHECK(warm.look("2026-04-12T15:16:00Z").empty());
}

TEST_CASE("a place that was shut is let alone, and one that was opened is to be shut") {
  Afternoon warm(27);
  warm.day.cooling("2026-04-12T16:00:00Z", 15.0, -2.0);
  CHECK(warm.look_where(true, "2026-04-12T16:05:00Z").size() == 1);
  CHECK(warm.look_where(false, "2026-04-12T16:05:00Z").empty());
  // Opened by hand on a day that did not ask for it.
  Afternoon cool(14);
  cool.day.cooling("2026-04-12T16:00:00Z", 12.0, -1.0);
  CHECK(cool.look("2026-04-12T16:05:00Z").empty());
  CHECK(cool.look_where(true, "2026-04-12T16:05:00Z").front().title ==
        "Shut the glasshouse now");
}

TEST_CASE("in German a place is to be shut, with a decimal comma") {
  Afternoon warm(27);
  warm.day.forecast("2026-04-12T14:23:00Z", 5.5, 2.0);
  warm.day.cooling("2026-04-12T15:30:00Z", 22.5, -3.0);
  Situation situation = warm.situation("2026-04-12T15:30:00Z");
  situation.wording = german(warm.day.zone);
  const Finding finding = find_shut(situation).front();
  CHECK(finding.title == "Glasshouse schließen");
  CHECK(finding.body ==
        "22,5 °C um 17:30 Uhr, fallend um 3,0 °C je Stunde. Bei 21,0 °C schließen, "
        "spätestens bei Sonnenuntergang um 20:03 Uhr, um die Tageswärme zu halten. Die "
        "Nacht wird vielleicht zu kalt: mit 40 % Wahrscheinlichkeit unter 5,0 °C, nach "
        "dem Ausblick von 16:23 Uhr; eine Vorhersage, kein Versprechen.");
}
