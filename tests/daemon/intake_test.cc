#include "daemon/intake.h"

#include <doctest/doctest.h>

#include "tests/support/hochfeld.h"

using namespace rimeward;
using namespace rimeward::testing;

namespace {

Arrival arrival(std::string payload) {
  Arrival one;
  one.at = at("2026-04-12T18:03:20Z");
  one.topic = "garden/yard/climate";
  one.payload_bytes = payload.size();
  one.payload = std::move(payload);
  return one;
}

Result<Intake> taken(const Arrival& one, ClockSource clock = ClockSource::kSystem) {
  return take_in(one, sensor_of("yard"), clock);
}

}  // namespace

TEST_CASE("a reading without a time is of the moment it arrived") {
  const auto intake = taken(arrival(R"({"temperature": 3.25, "humidity": 81})"));
  REQUIRE(intake);
  CHECK(intake->time == at("2026-04-12T18:03:20Z"));
  REQUIRE(intake->samples.size() == 2);
  CHECK(intake->samples[0].channel == Channel::kAirTemperature);
  CHECK(intake->samples[0].value == 3.25);
  CHECK(intake->samples[0].doubt.empty());
}

TEST_CASE("a time in the payload is honoured from 31 days before to 5 minutes after") {
  const auto time = [](const char* told) {
    return taken(arrival(std::string(R"({"temperature": 3, "time": ")") + told + "\"}"))
        ->time;
  };
  const Instant arrived = at("2026-04-12T18:03:20Z");
  CHECK(time("2026-04-12T18:00:00Z") == at("2026-04-12T18:00:00Z"));
  CHECK(time("2026-03-12T18:03:20Z") == at("2026-03-12T18:03:20Z"));
  CHECK(time("2026-03-12T18:03:19Z") == arrived);
  CHECK(time("2026-04-12T18:08:20Z") == at("2026-04-12T18:08:20Z"));
  CHECK(time("2026-04-12T18:08:21Z") == arrived);
  CHECK(time("1970-01-01T00:00:10Z") == arrived);
}

TEST_CASE("a copy that the broker kept counts only with a believable time of its own") {
  Arrival kept = arrival(R"({"temperature": 3})");
  kept.retained = true;
  const auto refused = taken(kept);
  REQUIRE_FALSE(refused);
  CHECK(refused.error().message ==
        "a copy that the broker kept, and it tells no time: it may be of any age");
  Arrival dated = arrival(R"({"temperature": 3, "time": "2026-04-12T17:00:00Z"})");
  dated.retained = true;
  CHECK(taken(dated)->time == at("2026-04-12T17:00:00Z"));
}

TEST_CASE("by the readings' clock a message without a time is refused") {
  CHECK_FALSE(taken(arrival(R"({"temperature": 3})"), ClockSource::kReadings));
  const auto old = taken(arrival(R"({"temperature": 3, "time": "2013-01-01T06:00:00Z"})"),
                         ClockSource::kReadings);
  CHECK(old->time == at("2013-01-01T06:00:00Z"));
  CHECK_FALSE(taken(arrival(R"({"temperature": 3, "time": "2099-01-01T06:00:00Z"})"),
                    ClockSource::kReadings));
}

TEST_CASE("a value that no garden has is doubtful, with its reason") {
  const auto intake = taken(arrival(R"({"temperature": -127, "humidity": 55})"));
  CHECK(intake->samples[0].doubt == "outside -60 to 70 °C");
  CHECK(intake->samples[1].doubt.empty());
  CHECK(taken(arrival(R"({"temperature": 1e308})"))->samples[0].doubt ==
        "outside -60 to 70 °C");
}

TEST_CASE("what is no reading is refused with the reason, whatever the bytes") {
  for (const char* payload :
       {"", "21.5", "nonsense", "{\"temperature\": ", "[]", "{}",
        R"({"temperature": "NaN"})", "\xff\xfe", "{\"temperature\"}"}) {
    CAPTURE(payload);
    const auto refused = taken(arrival(payload));
    REQUIRE_FALSE(refused);
    CHECK_FALSE(refused.error().message.empty());
  }
  Arrival huge = arrival("x");
  huge.payload_bytes = 1'048'576;
  CHECK(taken(huge).error().message == "payload of 1048576 bytes: more than 65536");
}
