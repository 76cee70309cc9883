#include "daemon/climate/judge.h"

#include <array>
#include <chrono>
#include <cmath>
#include <limits>
#include <vector>

#include <doctest/doctest.h>

#include "tests/daemon/climate/judge_watch.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;
using testing::Watched;

constexpr Instant kStart{std::chrono::sys_days{std::chrono::year{2026} / 4 / 12}};

// Values a step apart from kStart on; what came of them.
Watched watched(Channel channel, std::chrono::seconds step,
                const std::vector<double>& values) {
  Watched place(channel);
  Instant time = kStart;
  for (const double value : values) {
    place.take(time, to_milli(value), {});
    time += step;
  }
  return place;
}

// The places in the list, from 0, of the readings that are doubtful as jumps.
std::vector<int> jumps(std::chrono::seconds step, const std::vector<double>& values,
                       Channel channel = Channel::kAirTemperature) {
  std::vector<int> places;
  for (const auto& [time, why] : watched(channel, step, values).doubted) {
    CHECK(why.first == Doubt::kJump);
    places.push_back(static_cast<int>((time - kStart) / step));
  }
  return places;
}

using Places = std::vector<int>;

TEST_CASE("85 is the power-on value on temperatures and a humidity like any other") {
  const SensorType* probe = find_sensor_type("ds18b20");
  for (const SensorType* type : {probe, static_cast<const SensorType*>(nullptr)}) {
    CHECK(implausible(Channel::kAirTemperature, 85.0, type).doubt == Doubt::kPowerOn);
    CHECK(implausible(Channel::kSoilTemperature, 85.0, type).doubt == Doubt::kPowerOn);
    CHECK(implausible(Channel::kHumidity, 85.0, type).doubt == Doubt::kNone);
    CHECK(implausible(Channel::kBatteryPercent, 85.0, type).doubt == Doubt::kNone);
  }
  CHECK(implausible(Channel::kAirTemperature, 84.9375, probe).doubt == Doubt::kRange);
}

TEST_CASE("-127 stands for a probe that does not answer") {
  CHECK(implausible(Channel::kAirTemperature, -127.0, nullptr).doubt ==
        Doubt::kNotConnected);
  CHECK(
      implausible(Channel::kSoilTemperature, -127.0, find_sensor_type("ds18b20")).doubt ==
      Doubt::kNotConnected);
  CHECK(implausible(Channel::kSignal, -127.0, nullptr).doubt == Doubt::kNone);
  CHECK(implausible(Channel::kAirTemperature, -126.9, nullptr).doubt == Doubt::kRange);
}

TEST_CASE("what the type or the channel cannot report is out of range, and why is said") {
  const SensorType* dht = find_sensor_type("dht22");
  const Implausible cold = implausible(Channel::kAirTemperature, -40.1, dht);
  CHECK(cold.doubt == Doubt::kRange);
  CHECK(cold.why == "outside what a dht22 can report: -40 to 80 °C");
  CHECK(implausible(Channel::kAirTemperature, -40.0, dht).doubt == Doubt::kNone);
  CHECK(implausible(Channel::kAirTemperature, -40.1, nullptr).doubt == Doubt::kNone);
  // Within the type's range, and still no garden's.
  CHECK(implausible(Channel::kAirTemperature, 100.0, find_sensor_type("ds18b20")).why ==
        "outside what temperature can be: -60 to 70 °C");
  CHECK(implausible(Channel::kPressure, 1100.5, find_sensor_type("bme280")).doubt ==
        Doubt::kRange);
  CHECK(implausible(Channel::kHumidity, 100.5, nullptr).doubt == Doubt::kRange);
  CHECK(implausible(Channel::kHumidity, 3276.7, find_sensor_type("ds18b20")).doubt ==
        Doubt::kRange);
  CHECK(implausible(Channel::kAirTemperature, std::nan(""), nullptr).doubt ==
        Doubt::kRange);
  CHECK(implausible(Channel::kHumidity, std::numeric_limits<double>::infinity(), nullptr)
            .doubt == Doubt::kRange);
  CHECK(implausible(Channel::kAirTemperature, -12.5, dht).why.empty());
}

TEST_CASE("a jump that the next reading does not confirm is never believed") {
  CHECK(jumps(1min, {10, 10, 10, 18, 10, 10}) == Places{3});
  CHECK(jumps(1min, {10, 10, 10, 2, 10.1, 10}) == Places{3});
  CHECK(jumps(15min, {10, 10, 10, 23, 10, 10}) == Places{3});
  CHECK(jumps(1h, {10, 10, 10, -6, 10, 10}) == Places{3});
}

TEST_CASE("the reason of a jump has its numbers") {
  Judge judge(Channel::kAirTemperature);
  CHECK(judge.judge(kStart, 10'000, {}).why.empty());
  const Judge::Verdict jump = judge.judge(kStart + 1min, 24'300, {});
  CHECK(jump.doubt == Doubt::kJump);
  CHECK(jump.why == "a jump of 14.3 °C in 60 s, where 5.0 °C is the most");
}

TEST_CASE("a true step costs one reading's delay") {
  for (const auto step : {1min, 15min, 60min}) {
    Judge judge(Channel::kAirTemperature);
    CHECK(judge.judge(kStart, 24'000, {}).doubt == Doubt::kNone);
    CHECK(judge.judge(kStart + step, 24'100, {}).doubt == Doubt::kNone);
    CHECK(judge.judge(kStart + 2 * step, 4'000, {}).doubt == Doubt::kJump);
    const Judge::Verdict next = judge.judge(kStart + 3 * step, 3'500, {});
    CHECK(next.doubt == Doubt::kNone);
    REQUIRE(next.believed_again.size() == 1);
    CHECK(next.believed_again[0].time == kStart + 2 * step);
    CHECK(next.believed_again[0].value == 4'000);
    CHECK(next.withdrawn.empty());
  }
}

TEST_CASE("what air can go in the time is believed at once") {
  CHECK(jumps(1min, {10, 14, 10, 6, 10.5}) == Places{});
  CHECK(jumps(15min, {10, 21, 12, 5}) == Places{});
  CHECK(jumps(1h, {10, 24, 10.5}) == Places{1});  // up and back is another matter
  CHECK(jumps(1h, {10, 24, 24}) == Places{});
  CHECK(jumps(4h, {10, 40, 10, -10, 30}) == Places{});
}

TEST_CASE("a second held reading that disagrees with both waits as well") {
  const Watched place =
      watched(Channel::kAirTemperature, 1min, {10, 10, 30, -20, 10, 10.1});
  CHECK(place.count(Doubt::kJump) == 2);
  CHECK(place.believed.size() == 4);
}

TEST_CASE("after three held readings, or an hour of them, something is believed again") {
  Judge judge(Channel::kAirTemperature);
  judge.judge(kStart, 10'000, {});
  const std::array<Milli, 3> wild{30'000, -20'000, 50'000};
  for (std::size_t i = 0; i < wild.size(); ++i) {
    const auto after = std::chrono::minutes{i + 1};
    CHECK(judge.judge(kStart + after, wild[i], {}).doubt == Doubt::kJump);
  }
  CHECK(judge.judge(kStart + 4min, 0, {}).doubt == Doubt::kNone);

  Judge slow(Channel::kAirTemperature);
  slow.judge(kStart, 10'000, {});
  CHECK(slow.judge(kStart + 40min, 40'000, {}).doubt == Doubt::kJump);
  CHECK(slow.judge(kStart + 80min, -20'000, {}).doubt == Doubt::kJump);
  CHECK(slow.judge(kStart + 120min, 65'000, {}).doubt == Doubt::kNone);
}

TEST_CASE("a noisy series may jump further") {
  std::vector<double> noisy;
  for (int i = 0; i < 20; ++i) {
    noisy.push_back(i % 2 == 0 ? 10.0 : 12.0);
  }
  noisy.push_back(21);  // median step 2, from 12
  noisy.push_back(10);
  CHECK(jumps(1min, noisy) == Places{});
  noisy[20] = 26;
  CHECK(jumps(1min, noisy) == Places{20});
}

TEST_CASE("another place that moved the same way makes a jump believed") {
  for (const Milli there : {4'000, 3'900, -4'000}) {
    Judge place(Channel::kAirTemperature);
    Judge yard(Channel::kAirTemperature);
    const std::array<const Judge*, 1> others{&yard};
    for (int minute = 0; minute < 10; ++minute) {
      place.judge(kStart + minute * 1min, 20'000, {});
      yard.judge(kStart + minute * 1min, 15'000, {});
    }
    yard.judge(kStart + 10min, 15'000 + there, {});
    const Judge::Verdict verdict = place.judge(kStart + 10min, 28'000, others);
    CHECK(verdict.doubt == (there == 4'000 ? Doubt::kNone : Doubt::kJump));
  }
}

TEST_CASE("a spike that was believed is withdrawn when the next reading comes") {
  Judge judge(Channel::kAirTemperature);
  judge.judge(kStart, 6'000, {});
  judge.judge(kStart + 1h, 5'000, {});
  CHECK(judge.judge(kStart + 2h, -6'000, {}).doubt == Doubt::kNone);
  const Judge::Verdict next = judge.judge(kStart + 3h, 3'000, {});
  CHECK(next.doubt == Doubt::kNone);
  REQUIRE(next.withdrawn.size() == 1);
  CHECK(next.withdrawn[0].time == kStart + 2h);
  CHECK(next.withdrawn[0].value == -6'000);
  CHECK(next.withdrawn[0].doubt == Doubt::kJump);
  CHECK(next.withdrawn[0].why == "stands out from the readings before and after it");
}

TEST_CASE("real weather's largest excursions stay believed") {
  // The largest of the records, in degrees C: Beijing 2016-11-05 and 2014-05-27, a tunnel
  // near Vicenza 2022-04-08.
  CHECK(jumps(1h, {15.9, 15.7, 20.9, 13.2, 12.8}) == Places{});
  CHECK(jumps(1h, {28.1, 29.8, 21.6, 26.3}) == Places{});
  CHECK(jumps(15min, {31.9, 32.712, 42.074, 34.804}) == Places{});
}

TEST_CASE("a ramp is no spike, however steep") {
  CHECK(jumps(1h, {0, 0, 9, 18, 27, 27}) == Places{});
  CHECK(jumps(1min, {20, 16, 12, 8, 4, 0}) == Places{});
}

TEST_CASE("a first reading after a silence that the next two refute is withdrawn") {
  CHECK(jumps(1min, {-20, 8, 8, 8.1}) == Places{0});
  CHECK(jumps(1h, {-12, 11, 10.6, 10}) == Places{0});
}

TEST_CASE("a late reading is held against those on both its sides") {
  const auto late = [](Milli value) {
    Judge judge(Channel::kAirTemperature);
    judge.judge(kStart, 10'000, {});
    judge.judge(kStart + 20min, 11'000, {});
    return judge.judge(kStart + 10min, value, {}).doubt;
  };
  CHECK(late(10'500) == Doubt::kNone);
  CHECK(late(15'000) == Doubt::kNone);
  CHECK(late(25'000) == Doubt::kJump);
  CHECK(late(-5'000) == Doubt::kJump);
}

TEST_CASE("a late reading may lie on either side of a true step") {
  for (const Milli value : {20'000, 4'000}) {
    Judge judge(Channel::kAirTemperature);
    judge.judge(kStart, 20'000, {});
    judge.judge(kStart + 4min, 4'000, {});
    judge.judge(kStart + 5min, 4'000, {});
    CHECK(judge.judge(kStart + 2min, value, {}).doubt == Doubt::kNone);
  }
}

TEST_CASE("a late reading can show that an earlier one was a spike") {
  Judge judge(Channel::kAirTemperature);
  judge.judge(kStart, 10'000, {});
  CHECK(judge.judge(kStart + 1h, 22'000, {}).doubt == Doubt::kNone);
  judge.judge(kStart + 3h, 11'000, {});
  CHECK(judge.judge(kStart + 59min, 10'200, {}).doubt == Doubt::kNone);
  const Judge::Verdict verdict = judge.judge(kStart + 61min, 10'100, {});
  CHECK(verdict.doubt == Doubt::kNone);
  REQUIRE(verdict.withdrawn.size() == 1);
  CHECK(verdict.withdrawn[0].time == kStart + 1h);
}

TEST_CASE("two late readings that agree outweigh the spikes on both their sides") {
  Judge judge(Channel::kAirTemperature);
  judge.judge(kStart, 40'000, {});
  judge.judge(kStart + 1h, 41'000, {});
  CHECK(judge.judge(kStart + 30min, 10'000, {}).doubt == Doubt::kJump);
  const Judge::Verdict second = judge.judge(kStart + 31min, 10'100, {});
  CHECK(second.doubt == Doubt::kNone);
  REQUIRE(second.believed_again.size() == 1);
  CHECK(second.believed_again[0].time == kStart + 30min);
}

TEST_CASE("each channel has its own limits") {
  CHECK(jumps(1min, {10, 10, 14, 10}, Channel::kSoilTemperature) == Places{2});
  CHECK(jumps(1h, {60, 60, 95, 61}, Channel::kHumidity) == Places{});
  CHECK(jumps(1h, {60, 60, 5, 62}, Channel::kHumidity) == Places{2});
  CHECK(jumps(1min, {60, 60, 85, 60}, Channel::kHumidity) == Places{2});
  CHECK(jumps(1h, {1010, 1010, 1027, 1010}, Channel::kPressure) == Places{2});
  for (const Channel channel : {Channel::kLight, Channel::kSoilMoisture,
                                Channel::kBatteryVoltage, Channel::kSignal}) {
    CHECK(jumps(1min, {10, 10, 90, 10}, channel) == Places{});
  }
}

// A place that says `value` a step apart, so many times, after it has moved by
// `step_size` steps, while another place rises evenly by `moved` in all.
Watched stood_still(Channel channel, std::chrono::seconds step, int times,
                    double step_size, double moved, double value = 10) {
  Watched place(channel);
  Judge yard(channel);
  const std::array<const Judge*, 1> others{&yard};
  constexpr int kBefore = 12;
  for (int i = 0; i < kBefore + times; ++i) {
    const bool stands = i >= kBefore;
    const Instant time = kStart + i * step;
    const double share = stands ? double(i - kBefore) / (times - 1) : 0;
    place.take(time, to_milli(stands || i % 2 == 0 ? value : value + step_size), others);
    yard.judge(time, to_milli(5 + share * moved), {});
  }
  return place;
}

TEST_CASE(
    "the same value for long while another place moves is stuck but for its first") {
  CHECK(stood_still(Channel::kAirTemperature, 1min, 40, 0.1, 3).count(Doubt::kStuck) ==
        39);
  CHECK(stood_still(Channel::kAirTemperature, 15min, 8, 0.1, 4).count(Doubt::kStuck) > 5);
  CHECK(stood_still(Channel::kAirTemperature, 1h, 8, 0.1, 6).count(Doubt::kStuck) > 5);
}

TEST_CASE("nothing is stuck while nothing moves elsewhere, or not for long") {
  CHECK(stood_still(Channel::kAirTemperature, 1min, 60, 0.1, 1.9).doubted.empty());
  CHECK(stood_still(Channel::kAirTemperature, 1min, 29, 0.1, 8).doubted.empty());
  CHECK(stood_still(Channel::kAirTemperature, 15min, 5, 0.1, 8).doubted.empty());
}

TEST_CASE("a coarse sensor in calm air is not stuck") {
  CHECK(stood_still(Channel::kAirTemperature, 1min, 60, 0.5, 2.9).doubted.empty());
  CHECK(stood_still(Channel::kAirTemperature, 1min, 60, 1.0, 5.9).doubted.empty());
  CHECK(stood_still(Channel::kAirTemperature, 1min, 60, 0.5, 4).count(Doubt::kStuck) >
        30);
}

TEST_CASE("humidity is stuck below saturation only, and other channels never") {
  CHECK(stood_still(Channel::kHumidity, 1min, 60, 0.5, 40, 70).count(Doubt::kStuck) > 30);
  CHECK(stood_still(Channel::kHumidity, 1min, 60, 0.5, 40, 97).doubted.empty());
  CHECK(stood_still(Channel::kHumidity, 1min, 60, 0.5, 15, 70).doubted.empty());
  CHECK(stood_still(Channel::kSoilTemperature, 1min, 60, 0.1, 8).doubted.empty());
  CHECK(stood_still(Channel::kPressure, 1min, 60, 0.1, 8, 1000).doubted.empty());
}

TEST_CASE("what follows a stuck run with its value is doubted, the next other believed") {
  Watched place(Channel::kAirTemperature);
  Judge yard(Channel::kAirTemperature);
  const std::array<const Judge*, 1> others{&yard};
  place.take(kStart - 1min, 12'100, others);
  for (int minute = 0; minute < 60; ++minute) {
    yard.judge(kStart + minute * 1min, 12'000 - minute * 150, {});
    place.take(kStart + minute * 1min, 12'000, others);
  }
  CHECK(place.count(Doubt::kStuck) == 59);
  CHECK(place.believed.contains(kStart));
  // The yard stands still again, the probe goes on saying the same.
  const std::string still = place.take(kStart + 60min, 12'000, {});
  CHECK(place.doubted.at(kStart + 60min).first == Doubt::kStuck);
  CHECK(still.find("still the value that it was stuck at") != std::string::npos);
  place.take(kStart + 61min, 3'300, {});
  CHECK(place.believed.contains(kStart + 61min));
  CHECK(place.count(Doubt::kJump) == 0);
}

TEST_CASE("a sensor that failed by a jump is stuck from its first wrong reading on") {
  Watched place(Channel::kAirTemperature);
  Judge yard(Channel::kAirTemperature);
  const std::array<const Judge*, 1> others{&yard};
  for (int minute = 0; minute < 60; ++minute) {
    const Instant time = kStart + minute * 1min;
    yard.judge(time, 12'000 + minute * 60, {});
    place.take(time, minute < 15 ? 10'000 + minute * 60 : 0, others);
  }
  CHECK(place.believed.size() == 15);
  CHECK(place.count(Doubt::kStuck) == 45);
}

TEST_CASE("a spike elsewhere makes nothing stuck") {
  Watched place(Channel::kAirTemperature);
  Judge yard(Channel::kAirTemperature);
  const std::array<const Judge*, 1> others{&yard};
  for (int hour = 0; hour < 12; ++hour) {
    const Instant time = kStart + hour * 1h;
    yard.judge(time, hour == 9 ? 22'000 : 10'000, {});
    place.take(time, hour < 2 ? 9'000 + hour * 100 : 10'000, others);
  }
  CHECK(place.doubted.empty());
}

TEST_CASE("a limit runs straight between its points and ends at the last") {
  constexpr TimedLimit kLimit{
      {{{1min, 1'000, 2}, {3min, 2'000, 2}, {5min, 2'000, 2}, {10min, 3'000, 1}}}};
  CHECK(kLimit.at(1s, 0) == 1'000);
  CHECK(kLimit.at(60s, 0) == 1'000);
  CHECK(kLimit.at(120s, 0) == 1'500);
  CHECK(kLimit.at(4min, 0) == 2'000);
  CHECK(kLimit.at(10min, 0) == 3'000);
  CHECK(kLimit.at(10min, 3'500) == 3'500);
  CHECK(kLimit.at(2min, 3'500) == 7'000);
  CHECK(kLimit.at(601s, 0) == std::nullopt);
}

}  // namespace
}  // namespace rimeward
