#include <doctest/doctest.h>

#include "daemon/notice/rule.h"
#include "tests/support/situation.h"

using namespace rimeward;
using namespace rimeward::testing;
using namespace std::chrono_literals;

namespace {

struct Listening {
  Evening evening;
  Sensor sensor = sensor_of("north-frame");
  SensorView view{.sensor = &sensor,
                  .place = &evening.place,
                  .last_heard = at("2026-04-12T12:05:00Z"),
                  .ever_heard = true,
                  .usual_gap = 5min};

  std::vector<Finding> after(std::chrono::seconds silence) const {
    Situation situation = evening.look("2026-04-12T12:05:00Z");
    situation.now += silence;
    situation.sensors = {view};
    return find_silent(situation);
  }
};

}  // namespace

TEST_CASE("a sensor may be quiet for half an hour, or for four of its usual gaps") {
  Listening listening;
  CHECK(listening.after(30min - 1s).empty());
  CHECK_FALSE(listening.after(30min).empty());
  listening.view.usual_gap = 60min;
  CHECK(listening.after(4h - 1s).empty());
  CHECK_FALSE(listening.after(4h).empty());
  listening.view.usual_gap = 24h;
  CHECK_FALSE(listening.after(6h).empty());
}

TEST_CASE("silent_after of the settings rules over the sensor's rhythm") {
  Listening listening;
  listening.sensor.silent_after = 2h;
  CHECK(listening.after(119min).empty());
  CHECK_FALSE(listening.after(120min).empty());
}

TEST_CASE("a silent sensor is named with its place, its last word and what to look at") {
  const Listening listening;
  const Finding finding = listening.after(45min).front();
  CHECK(finding.subject == "north-frame-probe");
  CHECK(finding.place == "north-frame");
  CHECK(finding.title == "The sensor in the north frame is silent");
  CHECK(finding.body ==
        "north-frame-probe was last heard at 14:05 on Sun 2026-04-12. It usually reports "
        "every 5 minutes. Until it does, what is said of the north frame rests on older "
        "readings, and no frost there will be noticed in the night. Look at its battery, "
        "and whether it can still be reached.");
}

TEST_CASE("a sensor that was never heard is waited for from the start") {
  Listening listening;
  listening.view.ever_heard = false;
  listening.view.usual_gap.reset();
  CHECK(listening.after(2h - 1s).empty());
  CHECK(listening.after(2h).front().body.starts_with(
      "north-frame-probe has never been heard; waited for since 14:05 on Sun"));
}
