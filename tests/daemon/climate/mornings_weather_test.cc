// The forecast of vent crossings beside a plain straight line, in a plastic tunnel in the
// north-east of Italy that it was not tuned to (the shared folder's tunnel_it1.csv).
//
// A morning runs from sunrise for nine hours. It counts where it begins below the
// threshold and has readings of three hours or more; it crosses where a reading below the
// threshold is followed by one that is not. Only the first call of a morning counts: well
// warned is 15 to 120 minutes before that reading, a false call one without a crossing.

#include <chrono>
#include <functional>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "daemon/climate/mornings.h"
#include "tests/daemon/climate/outlook_replay.h"
#include "tests/support/shared_folder.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;

constexpr Position kTunnel{45.4, 11.6};
constexpr auto kMorning = 9h;
constexpr auto kReach = 45min;  // of the plain line, back and ahead

struct Score {
  int crossed = 0;
  int warned = 0;  // well
  int missed = 0;
  int false_calls = 0;
};

// Whether a crossing is called, by the readings at `now` and before.
using Caller =
    std::function<bool(const Series& air, const SunEvents& sun, Instant now, Celsius)>;

bool plain_line(const Series& air, const SunEvents& /*sun*/, Instant now,
                Celsius threshold) {
  const auto readings = air.between(now - kReach - 1s, now);
  if (readings.size() < 3) return false;
  double hours = 0;
  double values = 0;
  const auto hours_at = [now](const TimedValue& reading) {
    return std::chrono::duration<double, std::ratio<3600>>(reading.at - now).count();
  };
  for (const TimedValue& reading : readings) {
    hours += hours_at(reading) / static_cast<double>(readings.size());
    values += reading.value / static_cast<double>(readings.size());
  }
  double covariance = 0;
  double variance = 0;
  for (const TimedValue& reading : readings) {
    covariance += (hours_at(reading) - hours) * (reading.value - values);
    variance += (hours_at(reading) - hours) * (hours_at(reading) - hours);
  }
  const double slope = covariance / variance;
  return slope > 0 && readings.back().value + slope * 0.75 >= threshold.degrees;
}

struct Morning {
  std::vector<Instant> read;
  std::vector<double> air;
  std::optional<Instant> called;

  void look(const Row& row) {
    read.push_back(row.at);
    air.push_back(row.air);
  }

  std::optional<Instant> crossing(Celsius threshold) const {
    for (std::size_t i = 1; i < air.size(); ++i) {
      if (air[i - 1] < threshold.degrees && air[i] >= threshold.degrees) return read[i];
    }
    return std::nullopt;
  }

  void judge(Celsius threshold, Score& score) const {
    if (air.empty() || air.front() >= threshold.degrees) return;
    if (read.back() - read.front() < 3h) return;
    const auto crosses = crossing(threshold);
    const bool warned = called && (!crosses || *called < *crosses);
    if (!crosses) {
      score.false_calls += warned ? 1 : 0;
      return;
    }
    ++score.crossed;
    if (!warned) {
      ++score.missed;
      return;
    }
    const auto ahead = *crosses - *called;
    score.warned += ahead >= 15min && ahead <= 120min ? 1 : 0;
  }
};

// Runs the readings through, in their order; `learn` once a day, three hours after noon.
Score score_of(std::span<const Row> rows, Celsius threshold, const Caller& calls,
               const std::function<void(const Series&, const SunEvents&)>& learn) {
  Series air;
  Score score;
  Morning morning;
  std::optional<std::int64_t> day;
  std::optional<SunEvents> sun;
  bool learned = false;
  for (const Row& row : rows) {
    if (const auto today = solar_day(row.at, kTunnel); day != today) {
      morning.judge(threshold, score);
      morning = {};
      day = today;
      sun = sun_events(today, kTunnel);
      learned = false;
    }
    if (!learned && row.at > sun->noon + 3h) {
      learn(air, *sun);
      learned = true;
    }
    air.insert(row.at, row.air);
    air.forget_before(row.at - 50h);
    if (row.at < sun->sunrise || row.at > sun->sunrise + kMorning) continue;
    morning.look(row);
    const bool below = row.air < threshold.degrees;
    if (!morning.called && below && calls(air, *sun, row.at, threshold)) {
      morning.called = row.at;
    }
  }
  morning.judge(threshold, score);
  return score;
}

Score plain_score(std::span<const Row> rows, Celsius threshold) {
  return score_of(rows, threshold, &plain_line, [](const Series&, const SunEvents&) {});
}

Score our_score(std::span<const Row> rows, Celsius threshold) {
  Mornings mornings;
  const auto calls = [&](const Series& air, const SunEvents& sun, Instant now,
                         Celsius above) {
    return mornings.crossing(air, sun.sunrise, sun.noon, now, above).has_value();
  };
  return score_of(rows, threshold, calls, [&](const Series& air, const SunEvents& sun) {
    mornings.learn(air, sun.sunrise, sun.noon);
  });
}

std::vector<Row> tunnel() {
  const auto shared = shared_folder();
  if (!shared) return {};
  return read_readings(*shared / "data" / "tunnel_it1.csv");
}

// Of each hour the first reading, as an hourly sensor would have told them.
std::vector<Row> by_the_hour(const std::vector<Row>& rows) {
  std::vector<Row> hourly;
  for (const Row& row : rows) {
    if (row.at == std::chrono::floor<std::chrono::hours>(row.at)) hourly.push_back(row);
  }
  return hourly;
}

void tell(const std::string& name, const Score& score) {
  MESSAGE(name, ": ", score.crossed, " mornings crossed, ", score.warned,
          " well warned, ", score.missed, " without warning, ", score.false_calls,
          " false calls");
}

TEST_CASE("the plain line does as well here as it was published to do") {
  const auto rows = tunnel();
  if (rows.empty()) {
    MESSAGE("no shared folder: nothing is scored");
    return;
  }
  const Score at_22 = plain_score(rows, {22});
  CHECK(at_22.crossed == 155);
  CHECK(at_22.warned == 144);
  CHECK(at_22.missed == 5);
  CHECK(at_22.false_calls == 22);
  const Score at_27 = plain_score(rows, {27});
  CHECK(at_27.crossed == 130);
  CHECK(at_27.warned == 112);
  CHECK(at_27.missed == 6);
  CHECK(at_27.false_calls == 24);
}

// 147 of 155 mornings at 22 °C and 114 of 130 at 27 °C when this was written, with 4 and
// 10 false calls. Most of what is missed are leaps of 4 to 7 °C in a quarter of an hour.
TEST_CASE("a tunnel's mornings are warned better than by a line, with half its alarms") {
  const auto rows = tunnel();
  if (rows.empty()) return;
  const auto check = [&rows](Celsius threshold, int best_in_100) {
    const Score plain = plain_score(rows, threshold);
    const Score ours = our_score(rows, threshold);
    tell("quarter-hours", ours);
    CHECK(ours.crossed == plain.crossed);
    CHECK(ours.warned > plain.warned);
    CHECK(ours.warned * 100 >= ours.crossed * best_in_100);
    CHECK(ours.false_calls * 2 <= plain.false_calls);
  };
  check({22}, 94);
  check({27}, 87);
}

TEST_CASE("a sensor that reports by the hour is warned of most mornings") {
  const auto rows = by_the_hour(tunnel());
  if (rows.empty()) return;
  for (const Celsius threshold : {Celsius{22}, Celsius{27}}) {
    const Score ours = our_score(rows, threshold);
    tell("hours", ours);
    CHECK(ours.warned * 10 >= ours.crossed * 7);
  }
}

}  // namespace
}  // namespace rimeward
