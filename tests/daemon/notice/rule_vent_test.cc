#include <string>

#include <doctest/doctest.h>

#include "daemon/notice/lifecycle.h"
#include "daemon/notice/rule.h"
#include "tests/support/situation.h"

using namespace rimeward;
using namespace rimeward::testing;

namespace {

// The morning of 12 April 2026 in the glasshouse, which is opened at 22 °C. Sunrise
// 04:41, noon 11:22, sunset 18:03 (UTC); local time is two hours later.
struct WarmingUp {
  Evening day;
  Mornings mornings;
  DaySpan sun{.sunrise = at("2026-04-12T04:41:00Z"),
              .noon = at("2026-04-12T11:22:00Z"),
              .sunset = at("2026-04-12T18:03:00Z")};

  WarmingUp() {
    day.place.id = "glasshouse";
    day.place.name = "Glasshouse";
    day.place.vent_above = Celsius{22};
  }

  // Readings every ten minutes for an hour up to `last`.
  void rising(std::string_view last, double air, double per_hour) {
    day.cooling(last, air, per_hour);
  }

  Situation situation(std::string_view now) const {
    Situation situation = day.look(now);
    situation.day = sun;
    situation.places.front().mornings = &mornings;
    return situation;
  }

  std::vector<Finding> look(std::string_view now) const {
    return find_vent(situation(now));
  }

  std::vector<Finding> look_where_opened(std::string_view since,
                                         std::string_view now) const {
    Situation opened = situation(now);
    opened.places.front().opening =
        OpeningRow{.place = "glasshouse", .since = at(since), .open = true};
    return find_vent(opened);
  }
};

Rule vent() {
  for (const Rule& rule : all_rules()) {
    if (rule.kind == "vent") return rule;
  }
  FAIL("no such rule");
  return all_rules().front();
}

}  // namespace

TEST_CASE("a place that warms fast is to be opened before it gets too warm") {
  WarmingUp glasshouse;
  glasshouse.rising("2026-04-12T08:00:00Z", 20.5, 5.0);
  const auto findings = glasshouse.look("2026-04-12T08:00:00Z");
  REQUIRE(findings.size() == 1);
  const Finding& finding = findings.front();
  CHECK(finding.holds);
  CHECK(finding.subject == "glasshouse");
  REQUIRE(finding.deadline);
  CHECK(*finding.deadline > at("2026-04-12T08:00:00Z"));
  CHECK(*finding.deadline <= at("2026-04-12T09:00:00Z"));
  const std::string by = glasshouse.day.zone.time_text(*finding.deadline);
  CHECK(finding.title == "Open the glasshouse");
  CHECK(finding.body ==
        "20.5 °C at 10:00, rising 5.0 °C an hour: it is likely to pass 22.0 °C near " +
            by + ", by its trend and its past mornings; a forecast, not a promise.");
  CHECK(finding.ends_at == at("2026-04-12T14:22:00Z"));
}

TEST_CASE("a place that is too warm already is to be opened now") {
  WarmingUp glasshouse;
  glasshouse.rising("2026-04-12T08:00:00Z", 23.5, 5.0);
  const Finding finding = glasshouse.look("2026-04-12T08:05:00Z").front();
  CHECK(finding.holds);
  CHECK(finding.title == "Open the glasshouse now");
  CHECK_FALSE(finding.deadline);
  CHECK(finding.body ==
        "23.5 °C at 10:00, rising 5.0 °C an hour: at or above the 22.0 °C to open at.");
}

TEST_CASE("a place far from its mark, or that hardly rises, is let alone") {
  WarmingUp cold;
  cold.rising("2026-04-12T08:00:00Z", 6.0, 1.0);
  CHECK(cold.look("2026-04-12T08:00:00Z").empty());
  WarmingUp dull;
  dull.rising("2026-04-12T12:00:00Z", 17.0, 0.0);
  CHECK(dull.look("2026-04-12T12:00:00Z").empty());
}

TEST_CASE("a place without a vent temperature, or without a sun, asks for nothing") {
  WarmingUp bed;
  bed.rising("2026-04-12T08:00:00Z", 23.5, 5.0);
  bed.day.place.vent_above.reset();
  CHECK(bed.look("2026-04-12T08:00:00Z").empty());
  Situation polar = bed.day.look("2026-04-12T08:00:00Z");
  polar.places.front().mornings = &bed.mornings;
  CHECK(find_vent(polar).empty());
}

TEST_CASE("nobody is asked to open before sunrise, nor from three hours after noon on") {
  WarmingUp glasshouse;
  glasshouse.rising("2026-04-12T04:40:00Z", 23.0, 0.0);
  CHECK(glasshouse.look("2026-04-12T04:40:00Z").empty());
  WarmingUp late;
  late.rising("2026-04-12T14:20:00Z", 23.0, 0.0);
  CHECK(late.look("2026-04-12T14:21:00Z").size() == 1);
  CHECK(late.look("2026-04-12T14:22:00Z").empty());
}

TEST_CASE("a place that was too warm all night is told of an hour after sunrise") {
  WarmingUp glasshouse;
  glasshouse.rising("2026-04-12T05:40:00Z", 23.0, 0.0);
  CHECK_FALSE(glasshouse.look("2026-04-12T05:40:00Z").front().holds);
  CHECK(glasshouse.look("2026-04-12T05:41:00Z").front().holds);
}

TEST_CASE("a place that gets far too hot is told of again") {
  WarmingUp told;
  told.rising("2026-04-12T08:00:00Z", 20.5, 5.0);
  const Finding first = told.look("2026-04-12T08:00:00Z").front();
  const NoticeRow open{.id = 1, .kind = "vent", .urgency = first.urgency};
  const auto step_at = [&](double air) {
    WarmingUp hotter;
    hotter.rising("2026-04-12T10:00:00Z", air, 3.0);
    const Finding now = hotter.look("2026-04-12T10:00:00Z").front();
    CHECK(now.title == "Open the glasshouse now");
    return next_step({}, &open, &now, vent(), at("2026-04-12T10:00:00Z")).step;
  };
  CHECK(step_at(29.9) == Step::kNothing);
  CHECK(step_at(30.0) == Step::kSpeakAgain);
}

TEST_CASE("a notice is raised at the first look, and one that is answered stays so") {
  WarmingUp glasshouse;
  glasshouse.rising("2026-04-12T08:00:00Z", 20.5, 5.0);
  const Finding finding = glasshouse.look("2026-04-12T08:00:00Z").front();
  const Instant now = at("2026-04-12T08:00:00Z");
  CHECK(next_step({}, nullptr, &finding, vent(), now).step == Step::kRaise);
  // Answered; then a cloud, and the sun again at noon.
  MatterRow matter{.settled_urgency = finding.urgency};
  matter =
      next_step(matter, nullptr, nullptr, vent(), now + std::chrono::hours{1}).matter;
  matter =
      next_step(matter, nullptr, nullptr, vent(), now + std::chrono::hours{4}).matter;
  CHECK(next_step(matter, nullptr, &finding, vent(), now + std::chrono::hours{5}).step ==
        Step::kNothing);
}

TEST_CASE("who is not ready yet in the morning is told later, to open now") {
  WarmingUp glasshouse;
  glasshouse.rising("2026-04-12T06:50:00Z", 21.5, 6.0);
  glasshouse.day.recents.air.insert(at("2026-04-12T07:00:00Z"), 22.4);
  const auto told_at = [&](std::string_view now) {
    Situation situation = glasshouse.situation(now);
    situation.hours.morning_from = std::chrono::hours{9};
    return find_vent(situation).front();
  };
  CHECK(glasshouse.look("2026-04-12T06:50:00Z").front().holds);
  CHECK_FALSE(told_at("2026-04-12T06:50:00Z").holds);
  CHECK_FALSE(told_at("2026-04-12T06:59:00Z").holds);
  CHECK(told_at("2026-04-12T07:00:00Z").holds);
  CHECK(told_at("2026-04-12T07:00:00Z").title == "Open the glasshouse now");
}

TEST_CASE("a place that was opened today is let alone until it gets far too hot") {
  WarmingUp glasshouse;
  glasshouse.rising("2026-04-12T10:00:00Z", 29.9, 3.0);
  CHECK(glasshouse.look_where_opened("2026-04-12T07:00:00Z", "2026-04-12T10:00:00Z")
            .empty());
  // Since yesterday: it may have been shut for the night and not written down.
  CHECK(glasshouse.look_where_opened("2026-04-11T21:59:00Z", "2026-04-12T10:00:00Z")
            .size() == 1);
  WarmingUp hot;
  hot.rising("2026-04-12T10:00:00Z", 30.0, 3.0);
  const auto findings =
      hot.look_where_opened("2026-04-12T07:00:00Z", "2026-04-12T10:00:00Z");
  REQUIRE(findings.size() == 1);
  CHECK(findings.front().title == "Open the glasshouse wider now");
  CHECK(
      findings.front().body ==
      "30.0 °C at 12:00, rising 3.0 °C an hour: far above the 22.0 °C to open at. If it "
      "is open, open it wider, and shade it.");
}

TEST_CASE("a place that was shut today is told of like any other") {
  WarmingUp glasshouse;
  glasshouse.rising("2026-04-12T08:00:00Z", 23.5, 5.0);
  Situation shut = glasshouse.situation("2026-04-12T08:05:00Z");
  shut.places.front().opening = OpeningRow{
      .place = "glasshouse", .since = at("2026-04-12T07:00:00Z"), .open = false};
  CHECK(find_vent(shut).size() == 1);
}

TEST_CASE("in German a place is to be opened, with a decimal comma") {
  WarmingUp glasshouse;
  glasshouse.rising("2026-04-12T08:00:00Z", 23.5, 5.0);
  Situation situation = glasshouse.situation("2026-04-12T08:05:00Z");
  situation.wording = german(glasshouse.day.zone);
  const Finding finding = find_vent(situation).front();
  CHECK(finding.title == "Glasshouse jetzt öffnen");
  CHECK(finding.body ==
        "23,5 °C um 10:00 Uhr, steigend um 5,0 °C je Stunde: die 22,0 °C, ab denen zu "
        "öffnen ist, sind erreicht.");
}
