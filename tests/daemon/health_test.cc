#include "daemon/health.h"

#include <doctest/doctest.h>

#include "tests/support/hochfeld.h"

using namespace rimeward;
using namespace rimeward::testing;
using namespace std::chrono_literals;

namespace {

constexpr Channel kAir = Channel::kAirTemperature;
const Instant kNoon = at("2026-04-12T12:00:00Z");

}  // namespace

TEST_CASE("doubts are counted by message, over the newest twelve") {
  Health health;
  for (int i = 0; i < 20; ++i) {
    const Instant when = kNoon + i * 1min;
    health.believed(when, Channel::kHumidity, 80);
    if (i < 10) {
      health.doubted(when, kAir, -127, Doubt::kNotConnected);
    } else {
      health.believed(when, kAir, 4);
    }
  }
  // The messages 8 to 19 are left; in 8 and 9 the temperature was doubted.
  const Doubts doubts = health.doubts();
  CHECK(doubts.readings == 12);
  CHECK(doubts.doubtful == 2);
  CHECK(doubts.mostly == Doubt::kNotConnected);
  CHECK(doubts.channel == kAir);
  CHECK(doubts.last_said == -127);
  CHECK(doubts.last_at == kNoon + 9min);
  CHECK(health.rhythm().usual_gap() == 1min);
}

TEST_CASE("what is believed after all, or was said in a check, is no doubt") {
  Health health;
  health.doubted(kNoon, kAir, 12, Doubt::kJump);
  CHECK(health.doubts().doubtful == 1);
  health.believed(kNoon, kAir, 12);
  health.doubted(kNoon + 1min, kAir, 0.4, Doubt::kCalibration);
  CHECK(health.doubts().readings == 2);
  CHECK(health.doubts().doubtful == 0);
  CHECK(health.rhythm().last_heard() == kNoon + 1min);
}

TEST_CASE("the battery is the newest value, by the time of measurement") {
  Health health;
  CHECK_FALSE(health.battery());
  health.believed(kNoon, Channel::kBatteryVoltage, 2.6);
  health.believed(kNoon - 1h, Channel::kBatteryVoltage, 2.9);
  REQUIRE(health.battery());
  CHECK(health.battery()->value == 2.6);
  CHECK(health.battery()->at == kNoon);
}
