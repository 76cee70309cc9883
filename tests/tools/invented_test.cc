#include "tools/play/invented.h"

#include <algorithm>
#include <map>

#include <doctest/doctest.h>

#include "sensors/decoders.h"
#include "tests/support/hochfeld.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;
using testing::at;

const InventedPlan kPlan{.from = at("2026-04-10T12:00:00Z"), .days = 3, .every = 5min};
constexpr Position kHochfeld{48.41, 9.52};

double low_between(const InventedDays& days, PlaceKind kind, const char* from,
                   const char* to) {
  double low = 100;
  for (Instant time = at(from); time < at(to); time += 5min) {
    low = std::min(low, days.at(time, kind).air.degrees);
  }
  return low;
}

TEST_CASE("the last night is cold, the nights before it are mild") {
  const InventedDays days(kPlan, kHochfeld);
  const auto low = [&](PlaceKind kind, const char* from, const char* to) {
    return low_between(days, kind, from, to);
  };
  CHECK(low(PlaceKind::kOutdoors, "2026-04-12T17:00Z", "2026-04-13T06:00Z") ==
        doctest::Approx(-3.0).epsilon(0.05));
  CHECK(low(PlaceKind::kFrame, "2026-04-12T17:00Z", "2026-04-13T06:00Z") ==
        doctest::Approx(-1.5).epsilon(0.1));
  CHECK(low(PlaceKind::kGreenhouse, "2026-04-12T17:00Z", "2026-04-13T06:00Z") <= 0.5);
  CHECK(low(PlaceKind::kOutdoors, "2026-04-10T12:00Z", "2026-04-12T12:00Z") > 4.0);
}

TEST_CASE("the low comes at sunrise and the high in the afternoon") {
  const InventedDays days(kPlan, kHochfeld);
  const auto air = [&](const char* time) {
    return days.at(at(time), PlaceKind::kOutdoors).air.degrees;
  };
  // Sunrise at Hochfeld on 13 April is about 04:38 UTC (USNO algorithm, in
  // daemon/climate).
  CHECK(air("2026-04-13T04:35Z") < air("2026-04-13T00:00Z"));
  CHECK(air("2026-04-13T04:35Z") < air("2026-04-13T06:00Z"));
  CHECK(air("2026-04-11T14:00Z") > air("2026-04-11T10:00Z"));
  CHECK(air("2026-04-11T14:00Z") > air("2026-04-11T18:00Z"));
}

TEST_CASE("no reading jumps and no humidity leaves 0 to 100 percent") {
  const InventedDays days(kPlan, kHochfeld);
  for (const PlaceKind kind :
       {PlaceKind::kGreenhouse, PlaceKind::kPolytunnel, PlaceKind::kFrame,
        PlaceKind::kBed, PlaceKind::kOutdoors}) {
    double before = days.at(kPlan.from, kind).air.degrees;
    for (Instant time = kPlan.from; time < kPlan.from + 72h; time += 1min) {
      CAPTURE(format_utc(time));
      const InventedClimate climate = days.at(time, kind);
      REQUIRE(std::abs(climate.air.degrees - before) < 0.8);
      REQUIRE(climate.humidity.percent > 0.0);
      REQUIRE(climate.humidity.percent <= 100.0);
      before = climate.air.degrees;
    }
  }
}

TEST_CASE("a garden beyond the polar circle gets its days too") {
  const InventedPlan june{.from = at("2026-06-20T12:00:00Z"), .days = 2, .every = 1h};
  const InventedDays days(june, Position{69.65, 18.96});
  CHECK(low_between(days, PlaceKind::kOutdoors, "2026-06-20T12:00Z",
                    "2026-06-22T12:00Z") < -2.5);
}

TEST_CASE(
    "the same plan gives the same messages, in order and readable by the decoders") {
  const Garden garden = testing::hochfeld();
  const auto messages = invented_messages(garden, kPlan);
  CHECK(messages.size() == 2 * 3 * 24 * 12);
  CHECK(std::ranges::is_sorted(messages, {}, &PlayedMessage::time));
  CHECK(messages.front().topic == "garden/north-frame/climate");
  CHECK(messages.front().payload.starts_with(
      R"({"time":"2026-04-10T12:00:00Z","temperature":)"));
  const auto same = invented_messages(garden, kPlan);
  for (std::size_t i = 0; i < messages.size(); ++i) {
    REQUIRE(messages[i].payload == same[i].payload);
    const auto decoded = find_decoder("json")->decode({messages[i].payload},
                                                      garden.sensors[0].payload, {});
    REQUIRE(decoded.has_value());
    REQUIRE(decoded->samples.size() == 2);
    REQUIRE(decoded->samples[0].measured_at == messages[i].time);
  }
}

TEST_CASE("each sensor is played in its own format, and one of another kind not at all") {
  Garden garden = testing::hochfeld();
  garden.sensors[0].payload.where = {{Channel::kAirTemperature, "/air/t"},
                                     {Channel::kBatteryPercent, "/battery"}};
  garden.sensors[1].format = "number";
  garden.sensors[1].payload.lone_channel = Channel::kHumidity;
  Sensor soil = garden.sensors[1];
  soil.payload.lone_channel = Channel::kSoilTemperature;
  garden.sensors.push_back(soil);
  const auto messages =
      invented_messages(garden, {.from = kPlan.from, .days = 1, .every = 12h});
  REQUIRE(messages.size() == 4);
  const auto pointed =
      find_decoder("json")->decode({messages[0].payload}, garden.sensors[0].payload, {});
  REQUIRE(pointed.has_value());
  CHECK(pointed->samples.size() == 1);
  const auto number = find_decoder("number")->decode({messages[1].payload},
                                                     garden.sensors[1].payload, {});
  REQUIRE(number.has_value());
  CHECK(number->samples.front().channel == Channel::kHumidity);
}

}  // namespace
}  // namespace rimeward
