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

Sensor json_sensor() {
  Sensor sensor = sensor_of("yard");
  sensor.format = "json";
  return sensor;
}

Intake taken(const Arrival& one, const Dating& dating = {}) {
  return take_in({one, "", json_sensor(), {}}, dating);
}

// What a sensor whose format nobody has said brings, and what is learned of it.
Intake looked_at(std::string payload, std::string topic = "garden/yard/climate",
                 const Facts& known = {}) {
  Arrival one = arrival(std::move(payload));
  one.topic = std::move(topic);
  Sensor sensor = sensor_of("yard");
  sensor.topic = one.topic;
  return take_in({one, "", sensor, known}, {});
}

}  // namespace

TEST_CASE("a reading without a time is of the moment it arrived") {
  const auto intake = taken(arrival(R"({"temperature": 3.25, "humidity": 81})"));
  REQUIRE(intake.samples.size() == 2);
  CHECK(intake.samples[0].time == at("2026-04-12T18:03:20Z"));
  CHECK(intake.samples[0].channel == Channel::kAirTemperature);
  CHECK(intake.samples[0].said == 3.25);
  CHECK(intake.samples[0].doubt == Doubt::kNone);
  CHECK_FALSE(intake.clock);
}

TEST_CASE("a time in the payload is honoured from 31 days before to 5 minutes after") {
  const auto sample = [](const char* told) {
    return taken(arrival(std::string(R"({"temperature": 3, "time": ")") + told + "\"}"))
        .samples.at(0);
  };
  const Instant arrived = at("2026-04-12T18:03:20Z");
  for (const char* told :
       {"2026-04-12T18:00:00Z", "2026-03-12T18:03:20Z", "2026-04-12T18:08:20Z"}) {
    CAPTURE(told);
    CHECK(sample(told).time == at(told));
    CHECK(sample(told).doubt == Doubt::kNone);
  }
  CHECK(sample("2026-03-12T18:03:19Z").time == arrived);
  CHECK(sample("2026-03-12T18:03:19Z").doubt == Doubt::kTooOld);
  CHECK(sample("1970-01-01T00:00:10Z").doubt == Doubt::kTooOld);
  const auto ahead = sample("2026-04-12T18:08:21Z");
  CHECK(ahead.time == arrived);
  CHECK(ahead.doubt == Doubt::kFuture);
  CHECK(ahead.why ==
        "its own clock says 2026-04-12T18:08:21Z, and it came at 2026-04-12T18:03:20Z");
}

TEST_CASE(
    "of a sensor whose clock is known to be wrong, the arrival's time is believed") {
  const auto intake =
      taken(arrival(R"({"temperature": 3, "time": "1970-01-01T00:00:10Z"})"),
            {.now = {}, .clock_is_wrong = true});
  REQUIRE(intake.samples.size() == 1);
  CHECK(intake.samples[0].doubt == Doubt::kNone);
  CHECK(intake.samples[0].time == at("2026-04-12T18:03:20Z"));
  CHECK(intake.clock == Doubt::kTooOld);
}

TEST_CASE("a copy that the broker kept counts only with a believable time of its own") {
  Arrival kept = arrival(R"({"temperature": 3})");
  kept.retained = true;
  const auto refused = taken(kept);
  CHECK(refused.samples.empty());
  CHECK(refused.refused == Doubt::kRetained);
  CHECK(refused.why ==
        "a copy that the broker kept, and it tells no time: it may be of any age");
  Arrival dated = arrival(R"({"temperature": 3, "time": "2026-04-12T17:00:00Z"})");
  dated.retained = true;
  CHECK(taken(dated).samples.at(0).time == at("2026-04-12T17:00:00Z"));
}

TEST_CASE("by the readings' clock a message without a time is refused") {
  const Dating by_readings{.clock = ClockSource::kReadings,
                           .now = at("2013-01-01T06:10:00Z")};
  CHECK(taken(arrival(R"({"temperature": 3})"), by_readings).refused ==
        Doubt::kUnreadable);
  const auto old = taken(arrival(R"({"temperature": 3, "time": "2013-01-01T06:00:00Z"})"),
                         by_readings);
  CHECK(old.samples.at(0).time == at("2013-01-01T06:00:00Z"));
  const auto future = taken(
      arrival(R"({"temperature": 3, "time": "2099-01-01T06:00:00Z"})"), by_readings);
  CHECK(future.samples.at(0).doubt == Doubt::kFuture);
  CHECK(future.samples.at(0).time == at("2013-01-01T06:10:00Z"));
}

TEST_CASE("what is no reading is refused with the reason, whatever the bytes") {
  for (const char* payload :
       {"", "21.5", "nonsense", "{\"temperature\": ", "[]", "{}",
        R"({"temperature": "NaN"})", "\xff\xfe", "{\"temperature\"}"}) {
    CAPTURE(payload);
    const auto refused = taken(arrival(payload));
    CHECK(refused.samples.empty());
    CHECK(refused.refused == Doubt::kUnreadable);
    CHECK_FALSE(refused.why.empty());
  }
  Arrival huge = arrival("x");
  huge.payload_bytes = 1'048'576;
  CHECK(taken(huge).why == "payload of 1048576 bytes: more than 65536");
}

TEST_CASE("a format that nobody has said is found by looking, and kept as a fact") {
  const auto json = looked_at(R"({"temperature": 3})");
  REQUIRE(json.samples.size() == 1);
  CHECK(json.facts.at("format") == "json");
  // What is known already is no news.
  CHECK(looked_at(R"({"temperature": 3})", "garden/yard/climate", {{"format", "json"}})
            .facts.empty());
}

TEST_CASE("a bare number is of the channel that its topic names, and else of none") {
  const auto humidity = looked_at("81", "garden/yard/humidity");
  REQUIRE(humidity.samples.size() == 1);
  CHECK(humidity.samples[0].channel == Channel::kHumidity);
  CHECK(humidity.facts.at("format") == "number");
  CHECK(humidity.facts.at("channel") == "humidity");
  const Facts known(humidity.facts.begin(), humidity.facts.end());
  CHECK(looked_at("80", "garden/yard/humidity", known).samples.at(0).channel ==
        Channel::kHumidity);
  const auto unclear = looked_at("81", "garden/yard/probe");
  CHECK(unclear.samples.empty());
  CHECK(unclear.refused == Doubt::kUnreadable);
  CHECK(unclear.facts.at("format?") == "a number of unknown channel");
}

TEST_CASE("a payload that could be two things is refused, and both are named") {
  // A number, and the text form of a BTHome battery reading.
  const auto unclear = looked_at("400161", "garden/yard/temperature");
  CHECK(unclear.samples.empty());
  CHECK(unclear.why == "could be in more than one format (number, bthome): say in which");
  CHECK(unclear.facts.at("format?") == "number, bthome");
}

TEST_CASE("a sensor that speaks another format from some day on is followed") {
  const Facts known{{"format", "json"}};
  const auto senml =
      looked_at(R"([{"n":"t","u":"Cel","v":3}])", "garden/yard/climate", known);
  REQUIRE(senml.samples.size() == 1);
  CHECK(senml.facts.at("format") == "senml");
  CHECK(looked_at("offline", "garden/yard/climate", known).refused == Doubt::kUnreadable);
}
