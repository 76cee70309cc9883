#include "daemon/ingest/flood_gate.h"

#include <thread>

#include <doctest/doctest.h>
#include <fmt/format.h>

namespace rimeward {
namespace {

using namespace std::chrono_literals;

const std::string kYard = "garden/yard/climate";
constexpr FloodGate::Time kStart{1000h};

// How many of `count` messages at one moment pass.
std::int64_t passed(FloodGate& gate, const std::string& topic, std::int64_t count,
                    FloodGate::Time now) {
  std::int64_t passed = 0;
  for (std::int64_t i = 0; i < count; ++i)
    passed += gate.admit(topic, now) ? 1 : 0;
  return passed;
}

TEST_CASE(
    "a week's backlog of a reading a minute passes at once, and not the same again") {
  FloodGate gate;
  CHECK(passed(gate, kYard, 7 * 24 * 60, kStart) == 7 * 24 * 60);
  CHECK(passed(gate, kYard, 40'000, kStart) == FloodGate::kAtOnce - 7 * 24 * 60);
}

TEST_CASE("who has flooded may send five messages a second from then on") {
  FloodGate gate;
  passed(gate, kYard, 30'000, kStart);
  CHECK(passed(gate, kYard, 10, kStart + 199ms) == 0);
  CHECK(passed(gate, kYard, 10, kStart + 200ms) == 1);
  CHECK(passed(gate, kYard, 1'000, kStart + 1min + 200ms) == 300);
}

TEST_CASE("a bucket is full again after an hour and seven minutes, and holds no more") {
  FloodGate gate;
  passed(gate, kYard, 30'000, kStart);
  CHECK(passed(gate, kYard, 30'000, kStart + 4000s) == FloodGate::kAtOnce);
  CHECK(passed(gate, kYard, 30'000, kStart + 24h) == FloodGate::kAtOnce);
}

TEST_CASE("one topic's flood takes nothing from another") {
  FloodGate gate;
  passed(gate, kYard, 60'000, kStart);
  for (int second = 0; second < 100; ++second)
    CHECK(gate.admit("garden/pea-bed/climate", kStart + second * 1s));
}

TEST_CASE(
    "an excess is told at once, then each minute, and logged at once, then hourly") {
  FloodGate gate;
  CHECK(gate.due(kStart).empty());
  passed(gate, kYard, FloodGate::kAtOnce + 7, kStart);
  auto told = gate.due(kStart);
  REQUIRE(told.size() == 1);
  CHECK(told[0].topic == kYard);
  CHECK(told[0].why == Doubt::kFlood);
  CHECK(told[0].count == 7);
  CHECK(told[0].to_log == 7);

  passed(gate, kYard, 10, kStart);
  CHECK(gate.due(kStart + 59s).empty());
  told = gate.due(kStart + 60s);
  REQUIRE(told.size() == 1);
  CHECK(told[0].count == 10);
  CHECK(told[0].to_log == 0);
  CHECK(gate.due(kStart + 1h - 1s).empty());

  told = gate.due(kStart + 1h);
  REQUIRE(told.size() == 1);
  CHECK(told[0].count == 0);
  CHECK(told[0].to_log == 10);
  CHECK(gate.due(kStart + 10h).empty());
}

TEST_CASE("at the end nothing that was counted is left untold") {
  FloodGate gate;
  passed(gate, kYard, FloodGate::kAtOnce + 1, kStart);
  CHECK(gate.due(kStart).size() == 1);
  passed(gate, kYard, 5, kStart);
  gate.count_redelivered(kYard);
  const auto rest = gate.rest(kStart + 1s);
  REQUIRE(rest.size() == 2);
  CHECK(rest[0].why == Doubt::kRedelivered);
  CHECK(rest[0].count == 1);
  CHECK(rest[1].why == Doubt::kFlood);
  CHECK(rest[1].count == 5);
  CHECK(gate.rest(kStart + 2s).empty());
}

TEST_CASE("a redelivery is counted under its topic and is no flood") {
  FloodGate gate;
  REQUIRE(gate.admit(kYard, kStart));
  gate.count_redelivered(kYard);
  gate.count_redelivered(kYard);
  const auto told = gate.due(kStart);
  REQUIRE(told.size() == 1);
  CHECK(told[0].topic == kYard);
  CHECK(told[0].why == Doubt::kRedelivered);
  CHECK(told[0].count == 2);
  CHECK(told[0].to_log == 0);
}

TEST_CASE("topics beyond the most share one bucket, until others have long been idle") {
  FloodGate gate;
  const auto topic = [](std::size_t i) { return fmt::format("garden/stray-{}", i); };
  for (std::size_t i = 0; i < FloodGate::kMostTopics; ++i)
    REQUIRE(gate.admit(topic(i), kStart));
  CHECK(passed(gate, "garden/one-more", 30'000, kStart) == FloodGate::kAtOnce);
  CHECK(passed(gate, "garden/another", 10, kStart) == 0);
  CHECK(passed(gate, topic(0), 10, kStart) == 10);
  const auto told = gate.due(kStart);
  REQUIRE(told.size() == 1);
  CHECK(told[0].topic.empty());
  CHECK(told[0].count == 10'010);

  CHECK(passed(gate, "garden/another", 10, kStart + 2min) == 10);
  CHECK(passed(gate, "garden/another", 30'000, kStart + 2min) == FloodGate::kAtOnce - 10);
}

TEST_CASE("a topic too long to be kept shares the bucket of such") {
  FloodGate gate;
  const std::string longest(FloodGate::kLongestTopic, 'a');
  CHECK(passed(gate, longest + "b", 30'000, kStart) == FloodGate::kAtOnce);
  CHECK(passed(gate, longest + "c", 10, kStart) == 0);
  CHECK(passed(gate, longest, 10, kStart) == 10);
}

TEST_CASE("what one thread is refused another fetches whole") {
  FloodGate gate;
  constexpr std::int64_t kSent = 50'000;
  std::jthread sender([&] { passed(gate, kYard, kSent, kStart); });
  std::int64_t counted = 0;
  for (auto now = kStart; now < kStart + 24h; now += 1min) {
    for (const Excess& excess : gate.due(now))
      counted += excess.count;
  }
  sender.join();
  for (const Excess& excess : gate.rest(kStart + 48h))
    counted += excess.count;
  CHECK(counted == kSent - FloodGate::kAtOnce);
}

}  // namespace
}  // namespace rimeward
