// What the App makes of a sensor's faults: each counted under its own reason, kept, and
// left out of what is computed.

#include "daemon/sensing.h"

#include <algorithm>

#include <doctest/doctest.h>
#include <fmt/format.h>

#include "daemon/app.h"
#include "daemon/store/correction_json.h"
#include "tests/support/played.h"

using namespace rimeward;
using namespace rimeward::testing;
using namespace std::chrono_literals;

namespace {

const Zone kZone = berlin();
const Instant kNoon = at("2026-04-12T12:00:00Z");

// An App on a store of its own, fed message by message.
class Bench {
 public:
  explicit Bench(Garden of = hochfeld()) : garden(std::move(of)) { restart(); }

  void restart() {
    app.reset();
    app.emplace(
        garden, kZone, store,
        AppOptions{.log = [this](LogLevel, const auto& line) { lines.push_back(line); }});
  }

  void say(const std::string& payload, Instant when,
           const std::string& topic = "garden/north-frame/climate",
           bool retained = false) {
    Arrival arrival;
    arrival.at = when;
    arrival.topic = topic;
    arrival.payload = payload;
    arrival.payload_bytes = payload.size();
    arrival.retained = retained;
    app->turn(arrival, when);
  }

  void say_air(double air, Instant when) {
    say(fmt::format(R"({{"temperature":{:.2f}}})", air), when);
  }

  std::int64_t count(Doubt doubt) {
    app->commit();
    std::int64_t count = 0;
    for (const TallyRow& row : store.tallies()) {
      if (row.doubt == doubt) count += row.count;
    }
    return count;
  }

  std::vector<double> stored() {
    app->commit();
    std::vector<double> values;
    store.each_reading(Instant{}, Instant::max(), [&](const ReadingRow& row) {
      values.push_back(from_milli(row.value));
    });
    return values;
  }

  Garden garden;
  Store store = Store::in_memory();
  std::vector<std::string> lines;
  std::optional<App> app;
};

}  // namespace

TEST_CASE(
    "what a one-wire probe says when it is not there is no frost, nor a heat wave") {
  Bench bench;
  for (int i = 0; i < 5; ++i)
    bench.say_air(4.0 + i * 0.1, kNoon + i * 1min);
  bench.say(R"({"temperature": 85, "humidity": 85})", kNoon + 6min);
  bench.say_air(-127, kNoon + 7min);
  bench.say_air(71, kNoon + 8min);
  CHECK(bench.count(Doubt::kPowerOn) == 1);
  CHECK(bench.count(Doubt::kNotConnected) == 1);
  CHECK(bench.count(Doubt::kRange) == 1);
  // Humidity may well be 85.
  CHECK(bench.stored() == std::vector<double>{4.0, 4.1, 4.2, 4.3, 4.4, 85.0});
  CHECK(bench.store.doubtful(kNoon, kNoon + 1h).size() == 3);
}

TEST_CASE("a spike is left out, a true step costs one reading's delay and nothing more") {
  Bench bench;
  for (int i = 0; i < 30; ++i)
    bench.say_air(12.0, kNoon + i * 1min);
  bench.say_air(-9.0, kNoon + 30min);
  bench.say_air(12.0, kNoon + 31min);
  CHECK(bench.count(Doubt::kJump) == 1);
  // The lid has blown off.
  bench.say_air(3.0, kNoon + 32min);
  CHECK(bench.count(Doubt::kJump) == 2);
  bench.say_air(2.8, kNoon + 33min);
  CHECK(bench.count(Doubt::kJump) == 1);
  const auto stored = bench.stored();
  REQUIRE(stored.size() == 33);
  CHECK(stored[31] == 3.0);
  CHECK(stored[32] == 2.8);
  const auto doubtful = bench.store.doubtful(kNoon, kNoon + 1h);
  REQUIRE(doubtful.size() == 1);
  CHECK(doubtful[0].value == -9.0);
}

TEST_CASE(
    "repeats are counted and stored once: by second, packet and the broker's word") {
  Bench bench;
  bench.say(R"({"temperature": 4, "time": "2026-04-12T12:00:00Z"})", kNoon);
  bench.say(R"({"temperature": 4, "time": "2026-04-12T12:00:00Z"})", kNoon + 9s);
  CHECK(bench.count(Doubt::kRepeat) == 1);
  bench.say(R"({"temperature": 5, "time": "2026-04-12T12:00:00Z"})", kNoon + 10s);
  CHECK(bench.count(Doubt::kSameSecond) == 1);
  bench.say(R"({"temperature": 4})", kNoon + 11s, "garden/north-frame/climate", true);
  CHECK(bench.count(Doubt::kRetained) == 1);
  bench.app->turn(Dropped{"garden/north-frame/climate", Doubt::kRedelivered, 3},
                  kNoon + 12s);
  bench.app->turn(Dropped{"garden/nobody", Doubt::kFlood, 3}, kNoon + 12s);
  CHECK(bench.count(Doubt::kRedelivered) == 3);
  CHECK(bench.count(Doubt::kFlood) == 0);
  CHECK(bench.stored() == std::vector<double>{4.0});
}

TEST_CASE(
    "of copies of a packet by several receivers the first counts, over a restart too") {
  Bench bench;
  bench.garden.sensors[0].format = "bthome";
  bench.restart();
  // BTHome: packet id 9, temperature 25.06 degrees C.
  const std::string packet = "40000902CA09";
  bench.say(packet, kNoon);
  bench.say(packet, kNoon + 2s);
  bench.app->commit();
  bench.restart();
  bench.say(packet, kNoon + 4s);
  CHECK(bench.count(Doubt::kRepeat) == 2);
  bench.say("40000A02CA09", kNoon + 60s);
  CHECK(bench.stored() == std::vector<double>{25.06, 25.06});
}

TEST_CASE(
    "a sensor whose clock is wrong is doubted three times, then dated as it arrives") {
  Bench bench;
  for (int i = 0; i < 6; ++i) {
    bench.say(fmt::format(R"({{"temperature":4.{},"time":"{}"}})", i,
                          format_utc(kNoon + i * 1min + 2h)),
              kNoon + i * 1min);
  }
  CHECK(bench.count(Doubt::kFuture) == 6);
  CHECK(bench.stored() == std::vector<double>{4.3, 4.4, 4.5});
  bench.say(R"({"temperature":4.6,"time":"2026-04-12T12:06:00Z"})", kNoon + 6min);
  CHECK(bench.count(Doubt::kFuture) == 6);
  bench.say(R"({"temperature":4.7,"time":"2025-04-12T12:07:00Z"})", kNoon + 7min);
  CHECK(bench.count(Doubt::kTooOld) == 1);
  CHECK(bench.stored().size() == 4);
}

TEST_CASE("a late reading is put in its place and counted as out of order") {
  Bench bench;
  for (const int minute : {0, 1, 3, 2, 4}) {
    bench.say(fmt::format(R"({{"temperature":4.{},"time":"{}"}})", minute,
                          format_utc(kNoon + minute * 1min)),
              kNoon + 5min);
  }
  CHECK(bench.count(Doubt::kOutOfOrder) == 1);
  CHECK(bench.stored() == std::vector<double>{4.0, 4.1, 4.2, 4.3, 4.4});
}

TEST_CASE("what is measured in a check is kept as the sensor says it, and is no frost") {
  Bench bench;
  bench.say_air(8.0, kNoon);
  bench.app->turn(ActionRow{.id = 1,
                            .at = kNoon + 1min,
                            .verb = "check",
                            .sensor = "north-frame-probe",
                            .detail = "7200"},
                  kNoon + 1min);
  bench.app->commit();
  bench.restart();
  bench.say_air(0.43, kNoon + 2min);
  CHECK(bench.count(Doubt::kCalibration) == 1);
  bench.app->turn(
      ActionRow{.id = 2,
                .at = kNoon + 3min,
                .verb = "correct",
                .sensor = "north-frame-probe",
                .detail = correction_json({.sensor = "north-frame-probe",
                                           .channel = Channel::kAirTemperature,
                                           .offset = -0.43,
                                           .uncertainty = 0.08,
                                           .method = "ice",
                                           .points = "[[0.43,0.0]]"})},
      kNoon + 3min);
  bench.app->turn(ActionRow{.id = 3,
                            .at = kNoon + 3min,
                            .verb = "check",
                            .sensor = "north-frame-probe",
                            .detail = "0"},
                  kNoon + 3min);
  bench.app->commit();
  bench.restart();
  bench.say_air(8.0, kNoon + 4min);
  CHECK(bench.stored() == std::vector<double>{8.0, 7.57});
  bench.app->turn(ActionRow{.id = 4,
                            .at = kNoon + 5min,
                            .verb = "uncorrect",
                            .sensor = "north-frame-probe",
                            .detail = "1"},
                  kNoon + 5min);
  bench.say_air(8.0, kNoon + 6min);
  CHECK(bench.stored() == std::vector<double>{8.0, 7.57, 8.0});
  REQUIRE(bench.store.corrections().size() == 1);
  CHECK(bench.store.corrections()[0].until == kNoon + 5min);
}

TEST_CASE("a Homie device describes itself, and is remembered over a restart") {
  Bench bench;
  bench.garden.sensors[0].topic = "homie/5/frame-probe";
  bench.garden.sensors[0].format = "";
  bench.restart();
  const std::string property = "homie/5/frame-probe/climate/temperature";
  bench.say("3.5", kNoon, property);  // not described yet
  bench.say(R"({"homie":"5.0","version":1,"nodes":{"climate":{"properties":)"
            R"({"temperature":{"datatype":"float","unit":"°F"}}}}})",
            kNoon + 1s, "homie/5/frame-probe/$description", true);
  bench.app->commit();
  bench.restart();
  bench.say("50", kNoon + 2s, property);
  CHECK(bench.stored() == std::vector<double>{10.0});
  const auto facts = bench.store.facts();
  CHECK(std::ranges::find(facts, "format", &FactRow::name)->value == "homie");
}

TEST_CASE("a topic of no sensor is noted for the terminal") {
  Bench bench;
  bench.say(R"({"temperature": 4})", kNoon, "garden/cellar");
  bench.app->commit();
  REQUIRE(bench.store.heard().size() == 1);
  CHECK(bench.store.heard()[0].topic == "garden/cellar");
}

TEST_CASE("no word of a sensor reaches the log unescaped or unbounded") {
  Bench bench;
  bench.say("\x1b[2J" + std::string(5000, 'x'), kNoon);
  bench.say(R"({"temperature": "\u001b[31m"})", kNoon + 1s);
  bench.say("{\"\x1b[2J\": 1}", kNoon + 2s);
  REQUIRE_FALSE(bench.lines.empty());
  for (const std::string& line : bench.lines) {
    CAPTURE(line);
    CHECK(line.size() < 500);
    CHECK(line.find('\x1b') == std::string::npos);
  }
}
