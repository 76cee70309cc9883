#include <algorithm>
#include <string>

#include <doctest/doctest.h>

#include "daemon/notice/lifecycle.h"
#include "daemon/notice/rule.h"
#include "tests/daemon/notice/hours_garden.h"
#include "tests/support/situation.h"

using namespace rimeward;
using namespace rimeward::testing;
using namespace std::chrono_literals;

namespace {

// The morning of 12 April 2026 in the north frame, under one layer, which must keep above
// 1 °C. Sunrise 04:41, noon 11:22 (UTC); local time is two hours later.
struct Morning {
  Evening frame;

  Morning() { frame.cover_layers = 1; }

  Situation situation(std::string_view now) const {
    Situation situation = frame.look(now);
    situation.day = DaySpan{.sunrise = at("2026-04-12T04:41:00Z"),
                            .noon = at("2026-04-12T11:22:00Z"),
                            .sunset = at("2026-04-12T18:03:00Z")};
    return situation;
  }

  std::vector<Finding> look(std::string_view now) const {
    return find_uncover(situation(now));
  }
};

// Of a frame that comes to that air at half past nine.
std::string state_at(double air, double per_hour) {
  Morning morning;
  morning.frame.cooling("2026-04-12T07:30:00Z", air, per_hour);
  return state_of(morning.look("2026-04-12T07:30:00Z"));
}

}  // namespace

TEST_CASE("a covered place that warms past the cold is to be uncovered, with numbers") {
  Morning morning;
  morning.frame.cooling("2026-04-12T07:30:00Z", 6.0, 3.0);
  const auto findings = morning.look("2026-04-12T07:30:00Z");
  REQUIRE(findings.size() == 1);
  const Finding& finding = findings.front();
  CHECK(finding.holds);
  CHECK(finding.subject == "north-frame");
  CHECK(finding.place == "north-frame");
  CHECK(finding.title == "Lift the fleece off the north frame");
  // From 3 °C an hour ago, half a degree in ten minutes: at 4 after twenty.
  CHECK(finding.body ==
        "6.0 °C at 09:30, rising 3.0 °C an hour: the cold has passed. It has been above "
        "4.0 °C since 08:50; its plants must keep above 1.0 °C. One layer on now. Warm "
        "sun under fleece scorches what grows there.");
  CHECK_FALSE(finding.deadline);
  // Three hours after noon, like the time after which nobody is told.
  CHECK(finding.ends_at == at("2026-04-12T14:22:00Z"));
  CHECK(finding.send_until == at("2026-04-12T14:22:00Z"));
}

TEST_CASE("three degrees above keep-above and rising hold, two linger, less is well") {
  CHECK(state_at(4.0, 2.0) == "holds");
  CHECK(state_at(3.9, 2.0) == "lingers");
  CHECK(state_at(3.0, 2.0) == "lingers");
  CHECK(state_at(2.9, 2.0).empty());
}

TEST_CASE("a place that does not rise may be under the next night's cover already") {
  CHECK(state_at(9.0, 0.3) == "holds");
  CHECK(state_at(9.0, 0.1) == "lingers");
  CHECK(state_at(9.0, -2.0) == "lingers");
}

TEST_CASE("a cloud that takes a degree does not end an open notice, a cold day does") {
  const Instant now = at("2026-04-12T07:30:00Z");
  const Rule& rule = *std::ranges::find(all_rules(), "uncover", &Rule::kind);
  const NoticeRow open{.id = 1, .kind = "uncover"};
  Morning cloudy;
  cloudy.frame.cooling("2026-04-12T07:30:00Z", 3.2, -2.0);
  const auto lingering = cloudy.look("2026-04-12T07:30:00Z");
  REQUIRE(lingering.size() == 1);
  const MatterRow gone{.gone_since = now - 1h, .notice = 1};
  CHECK(next_step(gone, &open, &lingering.front(), rule, now).step == Step::kNothing);
  Morning cold;
  cold.frame.cooling("2026-04-12T07:30:00Z", 2.5, -2.0);
  CHECK(cold.look("2026-04-12T07:30:00Z").empty());
  CHECK(next_step(gone, &open, nullptr, rule, now).step == Step::kLapse);
}

TEST_CASE("a place with nothing on it, or nothing to protect, is not to be uncovered") {
  Morning morning;
  morning.frame.cooling("2026-04-12T07:30:00Z", 6.0, 3.0);
  CHECK(morning.look("2026-04-12T07:30:00Z").size() == 1);
  Morning bare = morning;
  bare.frame.cover_layers = 0;
  CHECK(bare.look("2026-04-12T07:30:00Z").empty());
  Morning empty = morning;
  empty.frame.place.keep_above.reset();
  CHECK(empty.look("2026-04-12T07:30:00Z").empty());
}

TEST_CASE("nobody is sent out before an hour after sunrise, nor three after noon") {
  Morning early;
  early.frame.cooling("2026-04-12T05:40:00Z", 9.0, 3.0);
  CHECK(early.look("2026-04-12T05:40:00Z").empty());
  CHECK(state_of(early.look("2026-04-12T05:41:00Z")) == "holds");
  Morning late;
  late.frame.cooling("2026-04-12T14:20:00Z", 15.0, 3.0);
  CHECK(state_of(late.look("2026-04-12T14:21:00Z")) == "holds");
  CHECK(late.look("2026-04-12T14:22:00Z").empty());
}

TEST_CASE("the fleece stays on until the gardener is ready in the morning") {
  Morning morning;
  morning.frame.cooling("2026-04-12T07:30:00Z", 6.0, 3.0);
  const auto state = [&](std::string_view now) {
    Situation situation = morning.situation(now);
    situation.hours.morning_from = 9h + 45min;
    return state_of(find_uncover(situation));
  };
  CHECK(state("2026-04-12T07:44:00Z") == "lingers");
  CHECK(state("2026-04-12T07:45:00Z") == "holds");
}

TEST_CASE("a silent sensor, or a garden without a sunrise, uncovers nothing") {
  Morning morning;
  morning.frame.cooling("2026-04-12T07:30:00Z", 6.0, 3.0);
  CHECK(morning.look("2026-04-12T08:45:00Z").size() == 1);
  CHECK(morning.look("2026-04-12T08:46:00Z").empty());
  CHECK(find_uncover(morning.frame.look("2026-04-12T07:30:00Z")).empty());
}

TEST_CASE("the time from which it has been warm is that of the last rise past the mark") {
  Morning morning;
  Series& air = morning.frame.recents.air;
  air.insert(at("2026-04-12T06:00:00Z"), 4.5);
  air.insert(at("2026-04-12T06:20:00Z"), 3.8);
  air.insert(at("2026-04-12T06:40:00Z"), 4.6);
  air.insert(at("2026-04-12T07:00:00Z"), 5.2);
  CHECK(morning.look("2026-04-12T07:00:00Z")
            .front()
            .body.find("It has been above 4.0 °C since 08:40;") != std::string::npos);
}

TEST_CASE("in German the fleece is to be taken off, with a decimal comma") {
  Morning morning;
  morning.frame.cooling("2026-04-12T07:30:00Z", 6.0, 3.0);
  Situation situation = morning.situation("2026-04-12T07:30:00Z");
  situation.wording = german(morning.frame.zone);
  const Finding finding = find_uncover(situation).front();
  CHECK(finding.title == "North frame: Vlies abnehmen");
  CHECK(finding.body ==
        "6,0 °C um 09:30 Uhr, steigend um 3,0 °C je Stunde: die Kälte ist vorbei. Seit "
        "08:50 Uhr ist es über 4,0 °C; die Pflanzen brauchen mehr als 1,0 °C. Aufgelegt: "
        "eine Lage. Warme Sonne unter Vlies verbrennt, was dort wächst.");
}
