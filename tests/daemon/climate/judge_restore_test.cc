// What a judge remembers: the same after a restart, whenever it comes.

#include <algorithm>
#include <array>
#include <chrono>
#include <cmath>
#include <cstdint>
#include <random>
#include <utility>
#include <vector>

#include <doctest/doctest.h>

#include "tests/daemon/climate/judge_watch.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;
using testing::Watched;

constexpr Instant kStart{std::chrono::sys_days{std::chrono::year{2026} / 4 / 12}};

TEST_CASE("a judge restored in any order of its kinds goes on as the one before") {
  Judge lived(Channel::kAirTemperature);
  lived.judge(kStart, 10'000, {});
  lived.judge(kStart + 1min, 30'000, {});
  Judge restored(Channel::kAirTemperature);
  restored.restore_held(kStart + 1min, 30'000);
  restored.restore_believed(kStart, 10'000);
  for (Judge* judge : {&lived, &restored}) {
    const Judge::Verdict next = judge->judge(kStart + 2min, 29'500, {});
    CHECK(next.doubt == Doubt::kNone);
    CHECK(next.believed_again.size() == 1);
  }
}

TEST_CASE("a stuck probe stays stuck over a restart") {
  Judge judge(Channel::kAirTemperature);
  judge.restore_believed(kStart, 12'000);
  for (int minute = 1; minute < 40; ++minute)
    judge.restore_stuck(kStart + minute * 1min, 12'000);
  CHECK(judge.judge(kStart + 40min, 12'000, {}).doubt == Doubt::kStuck);
}

TEST_CASE("a spike that comes twice does not confirm itself") {
  Judge judge(Channel::kAirTemperature);
  judge.judge(kStart, 10'000, {});
  CHECK(judge.judge(kStart + 1min, 40'000, {}).doubt == Doubt::kJump);
  CHECK(judge.judge(kStart + 1min, 40'000, {}).doubt == Doubt::kRepeat);
  CHECK(judge.judge(kStart + 1min, 40'100, {}).doubt == Doubt::kSameSecond);
  CHECK(judge.judge(kStart + 2min, 10'100, {}).believed_again.empty());
  CHECK(judge.judge(kStart, 10'000, {}).doubt == Doubt::kRepeat);
}

// Two places of one garden through three days of an invented weather full of faults:
// spikes, values that stay, gaps, steps, and readings up to three hours late.
class Faulty {
 public:
  struct Reading {
    Instant time;
    std::size_t place;
    Milli value;
  };

  explicit Faulty(unsigned seed) : random_(seed) {
    for (std::size_t place = 0; place < 2; ++place)
      make(place, 60s * (place == 0 ? 1 : 7) + std::chrono::seconds{below(30)});
    std::ranges::sort(readings_, {}, [](const auto& one) {
      return std::pair(one.first, one.second.place);
    });
  }
  // By when they come.
  const auto& readings() const { return readings_; }
  std::uint32_t below(std::uint32_t bound) { return std::uint32_t(random_()) % bound; }

 private:
  void make(std::size_t place, std::chrono::seconds step) {
    double level = 8;
    int stuck = 0;
    Milli value = 0;
    for (Instant time = kStart; time < kStart + 72h; time += step) {
      const double hour =
          std::chrono::duration<double, std::ratio<3600>>(time - kStart).count();
      if (below(300) == 0) level += below(2) == 0 ? 9 : -9;
      if (stuck == 0 && below(250) == 0) stuck = 120;
      if (below(200) == 0) time += 200min;
      stuck = std::max(0, stuck - 1);
      const double now = level + 9 * std::sin(hour / 24 * 6.283) + below(5) / 50.0;
      if (stuck == 0) value = to_milli(now);
      const bool spike = below(30) == 0;
      const Milli said = spike ? value + Milli{below(50'000)} - 25'000 : value;
      const auto late = below(5) == 0 ? std::chrono::seconds{below(10'800)} : 0s;
      readings_.push_back({time + late, {time, place, said}});
    }
  }

  std::mt19937 random_;
  std::vector<std::pair<Instant, Reading>> readings_;
};

TEST_CASE("judges killed anywhere go on to the letter") {
  for (unsigned seed = 1; seed <= 4; ++seed) {
    CAPTURE(seed);
    Faulty faulty(seed);
    std::array<Watched, 2> live{Watched(Channel::kAirTemperature),
                                Watched(Channel::kAirTemperature)};
    std::array<Watched, 2> dying = live;
    for (const auto& [now, reading] : faulty.readings()) {
      const Instant oldest = now - Judge::kMemory;
      const std::size_t other = 1 - reading.place;
      const bool dies = faulty.below(20) == 0;
      for (Watched& watched : dying) {
        if (dies) watched.restore(oldest);
      }
      for (auto* garden : {&live, &dying}) {
        for (Watched& watched : *garden)
          watched.forget_before(oldest);
      }
      const auto told = [&](std::array<Watched, 2>& garden) {
        const std::array<const Judge*, 1> others{garden[other].judge()};
        return garden[reading.place].take(reading.time, reading.value, others);
      };
      REQUIRE(told(live) == told(dying));
    }
    CHECK(live[0].count(Doubt::kJump) > 20);
    CHECK(live[0].count(Doubt::kStuck) > 20);
    CHECK(live[0].believed == dying[0].believed);
    CHECK(live[1].believed == dying[1].believed);
  }
}

TEST_CASE("what is forgotten holds nothing back") {
  Judge judge(Channel::kAirTemperature);
  judge.judge(kStart, 10'000, {});
  judge.forget_before(kStart + 1s);
  CHECK(judge.judge(kStart + 1min, 40'000, {}).doubt == Doubt::kNone);
}

}  // namespace
}  // namespace rimeward
