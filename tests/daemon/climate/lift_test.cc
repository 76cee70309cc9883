#include "daemon/climate/lift.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <numbers>
#include <random>
#include <string>
#include <vector>

#include <doctest/doctest.h>
#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "daemon/climate/sun.h"
#include "tests/support/covered_place.h"
#include "tests/support/saved_text.h"

using namespace rimeward;
using namespace rimeward::testing;
using namespace std::chrono_literals;

namespace {

Lifts after(int nights, int layers, Kelvins added, Kelvins error) {
  Lifts lifts;
  for (int night = 0; night < nights; ++night)
    lifts.learn(layers, added, error);
  return lifts;
}

bool same(const Lifts& a, const Lifts& b) {
  for (int layers = 0; layers <= kMostLayers; ++layers)
    if (a.of(layers) != b.of(layers)) return false;
  return a.save() == b.save();
}

}  // namespace

TEST_CASE("a place begins with the low ends of what is published") {
  const Lifts lifts;
  // Fleece of 17 to 19 g/m2: 1 to 2 K (trade figures, not measured); two of 17 g/m2: 2 to
  // 3 K (from memory); of 50 to 60 g/m2, as three of them: 3 to 4.5 K (trade figures).
  CHECK(lifts.of(1).added == Kelvins{1.0});
  CHECK(lifts.of(2).added == Kelvins{2.0});
  CHECK(lifts.of(3).added == Kelvins{3.0});
  for (int layers = 1; layers <= kMostLayers; ++layers) {
    CAPTURE(layers);
    CHECK(lifts.of(layers).added <= Kelvins{6.0});
    CHECK(lifts.of(layers).spread >= Kelvins{1.0});
    CHECK(lifts.of(layers).nights == 0);
  }
}

TEST_CASE("no layers add nothing, for certain, whatever was learned") {
  CHECK(Lifts{}.of(0) == Lift{});
  CHECK(after(10, 1, {2.5}, {1.0}).of(0) == Lift{});
}

TEST_CASE("ten nights overrule what is published") {
  const Lift more = after(10, 1, {2.5}, {1.0}).of(1);
  CHECK(more.added.degrees == doctest::Approx(2.5).epsilon(0.1));
  CHECK(more.nights == 10);
  const Lift colder_beneath = after(10, 1, {-1.0}, {1.0}).of(1);
  CHECK(colder_beneath.added < Kelvins{-0.6});
}

TEST_CASE("what one layer turns out to add tells of two, but is no night of two") {
  const Lifts poor = after(10, 1, {0.3}, {0.8});
  CHECK(poor.of(2).added < Kelvins{1.4});
  CHECK(poor.of(2).added > poor.of(1).added);
  CHECK(poor.of(2).nights == 0);
  CHECK(after(10, 1, {2.0}, {0.8}).of(2).added > Kelvins{2.8});
  CHECK(after(10, 2, {0.6}, {0.8}).of(1).added < Kelvins{0.6});
}

TEST_CASE("a good reckoning counts for more than a poor one") {
  const auto learned_of = [](double error) {
    return after(1, 1, {2.0}, {error}).of(1).added;
  };
  CHECK(learned_of(0.3) > learned_of(1.0));
  CHECK(learned_of(1.0) > learned_of(3.0));
  CHECK(learned_of(3.0) > Kelvins{1.0});
}

TEST_CASE("one wild night hardly changes what many have shown") {
  Lifts lifts = after(30, 1, {1.5}, {0.8});
  const Kelvins before = lifts.of(1).added;
  lifts.learn(1, {-15.0}, {0.8});
  CHECK(before.degrees - lifts.of(1).added.degrees < 0.25);
  Lifts at_once;
  at_once.learn(1, {40.0}, {2.0});
  CHECK(at_once.of(1).added < Kelvins{2.5});
}

TEST_CASE("fleece that is worn or changed is followed within a season") {
  Lifts lifts = after(60, 2, {2.5}, {0.8});
  for (int night = 0; night < 60; ++night)
    lifts.learn(2, {1.0}, {0.8});
  CHECK(lifts.of(2).added.degrees == doctest::Approx(1.0).epsilon(0.25));
}

TEST_CASE("the spread narrows to that of single nights and no further") {
  const Lifts published;
  const Lift learned = after(200, 1, {1.2}, {0.8}).of(1);
  CHECK(learned.spread < published.of(1).spread);
  CHECK(learned.spread > Kelvins{0.5});
}

TEST_CASE("saved and restored, what is learned goes on to the last bit") {
  std::mt19937 random(5);
  Lifts lifts;
  for (int night = 0; night < 400; ++night) {
    const auto restored = Lifts::restore(lifts.save());
    REQUIRE(restored);
    REQUIRE(same(*restored, lifts));
    Lifts goes_on = *restored;
    const int layers = 1 + static_cast<int>(random() % kMostLayers);
    const Kelvins added{static_cast<double>(random() % 1000) / 150.0 - 1.5};
    const Kelvins error{0.1 + static_cast<double>(random() % 100) / 30.0};
    lifts.learn(layers, added, error);
    goes_on.learn(layers, added, error);
    REQUIRE(same(goes_on, lifts));
  }
}

TEST_CASE("what is learned stays sound through a thousand sure nights of one cover") {
  const Lifts lifts = after(1000, 9, {7.0}, {0.001});
  CHECK(Lifts::restore(lifts.save()).has_value());
  for (int layers = 1; layers <= kMostLayers; ++layers)
    CHECK(lifts.of(layers).spread > Kelvins{0.0});
}

TEST_CASE("text that no lifts can have saved is refused") {
  const auto good = nlohmann::json::parse(Lifts{}.save());
  const auto with = [&good](const char* key, const nlohmann::json& value) {
    auto changed = good;
    changed[key] = value;
    return changed.dump();
  };
  auto unlike = good.at("covariance");
  unlike[1] = 5.0;  // a correlation above 1
  auto beyond = good.at("added");
  beyond[0] = 1e9;
  auto without = good;
  without.erase("nights");
  const std::vector<std::string> bad = {
      "",
      "[]",
      "{}",
      "{\"version\":1",
      without.dump(),
      with("version", 2),
      with("version", "1"),
      with("added", {1.0, 2.0}),
      with("added", "1"),
      with("added", beyond),
      with("covariance", nlohmann::json::array()),
      with("covariance", unlike),
      with("covariance", std::vector<double>(45, 0.0)),
      with("nights", {0, 0, 0, 0, 0, 0, 0, 0, -1}),
      with("nights", std::vector<std::int64_t>(9, 1'000'000'000'000)),
  };
  CHECK(Lifts::restore(good.dump()).has_value());
  check_not_restored<Lifts>(bad, "saved lifts: ");
}

namespace {

constexpr Position kHochfeld{48.41, 9.52};

// Spring weather by formula: every day like the last, as wide a range as asked.
OutdoorWeather invented_weather(int days, double half_range) {
  std::vector<OutdoorHour> hours;
  const Instant start = std::chrono::sys_days{std::chrono::year{2026} / 4 / 1};
  for (int hour = 0; hour <= days * 24; ++hour) {
    const double wave = std::cos((hour % 24 - 14) * std::numbers::pi / 12.0);
    hours.push_back({start + std::chrono::hours{hour},
                     {8.0 + half_range * wave},
                     {75.0 - 2.0 * half_range * wave}});
  }
  return {kHochfeld, std::move(hours)};
}

// The lows of the night that begins on a solar day, under no sheet, one and two.
std::array<double, 3> lows_of(CoveredPlace place, std::int64_t day) {
  const SunTime dusk = sun_events(day, kHochfeld)->sunset;
  const Instant end = whole_second(sun_events(day + 1, kHochfeld)->sunrise) + 2h;
  place.advance(whole_second(dusk) - 1h);
  std::array<double, 3> lows{};
  for (std::size_t sheets = 0; sheets < lows.size(); ++sheets) {
    CoveredPlace tried = place;
    tried.cover(static_cast<int>(sheets));
    tried.advance(whole_second(dusk));
    lows.at(sheets) = tried.air().degrees;
    while (tried.now() < end) {
      tried.advance(tried.now() + 10min);
      lows.at(sheets) = std::min(lows.at(sheets), tried.air().degrees);
    }
  }
  return lows;
}

}  // namespace

TEST_CASE("the simulated place has lifts in the published order") {
  const OutdoorWeather clear = invented_weather(10, 8.0);
  const OutdoorWeather dull = invented_weather(10, 1.5);
  const std::int64_t day = solar_day(clear.hours().front().at + 6 * 24h, kHochfeld);
  const auto clear_lows = lows_of(CoveredPlace(clear), day);
  const auto dull_lows = lows_of(CoveredPlace(dull), day);
  const double one = clear_lows[1] - clear_lows[0];
  const double two = clear_lows[2] - clear_lows[0];
  CAPTURE(one);
  CAPTURE(two);
  // One light sheet 1 to 2 K, two 2 to 3 K (common practice); a row cover at most 5 K
  // (Snyder & de Melo-Abreu 2005, vol. 1, ch. 6).
  CHECK(one >= 1.0);
  CHECK(one <= 2.0);
  CHECK(two >= 2.0);
  CHECK(two <= 4.0);
  CHECK(dull_lows[1] - dull_lows[0] < one / 2.0);
  CHECK(dull_lows[2] - dull_lows[0] < two / 2.0);
}

TEST_CASE("the simulated place is as cold as its weather lets it be") {
  const OutdoorWeather clear = invented_weather(10, 8.0);
  CoveredPlace place(clear);
  const Instant end = clear.hours().back().at;
  double low = 99.0;
  double high = -99.0;
  while (place.now() < end) {
    place.advance(place.now() + 10min);
    low = std::min(low, place.air().degrees);
    high = std::max(high, place.air().degrees);
  }
  // The outdoor air goes from 0 to 16 degrees C.
  CHECK(low > -4.0);
  CHECK(low < 2.0);
  CHECK(high > 14.0);
  CHECK(high < 26.0);
}

TEST_CASE("the lift comes back from reckonings that err by a kelvin, ten of each cover") {
  // A week of every kind of sky, over and over.
  std::vector<OutdoorHour> hours;
  const Instant start = std::chrono::sys_days{std::chrono::year{2026} / 4 / 1};
  constexpr std::array kHalfRanges{6.0, 2.0, 8.0, 4.0, 7.0, 3.0, 5.0};
  for (int hour = 0; hour <= 30 * 24; ++hour) {
    const double wave = std::cos((hour % 24 - 14) * std::numbers::pi / 12.0);
    const double range = kHalfRanges.at(static_cast<std::size_t>(hour / 24 % 7));
    hours.push_back({start + std::chrono::hours{hour},
                     {8.0 + range * wave},
                     {75.0 - 2.0 * range * wave}});
  }
  const OutdoorWeather weather(kHochfeld, std::move(hours));
  CoveredPlace place(weather);
  std::mt19937 random(11);
  Lifts lifts;
  std::array<double, 3> true_lifts{};
  const std::int64_t first = solar_day(start, kHochfeld) + 4;
  for (std::int64_t day = first; day < first + 20; ++day) {
    const auto lows = lows_of(place, day);
    const auto sheets = static_cast<std::size_t>(1 + (day - first) % 2);
    const double added = lows.at(sheets) - lows[0];
    // Even between -1.7 and 1.7 K, which has a standard error of 1 K.
    const double error = static_cast<double>(random() % 1701) / 500.0 - 1.7;
    lifts.learn(static_cast<int>(sheets), {added + error}, {1.0});
    true_lifts.at(sheets) += added / 10.0;
    place.advance(whole_second(sun_events(day + 1, kHochfeld)->noon));
  }
  for (const int layers : {1, 2}) {
    CAPTURE(layers);
    const double truth = true_lifts.at(static_cast<std::size_t>(layers));
    CHECK(std::abs(lifts.of(layers).added.degrees - truth) < 0.5);
    CHECK(lifts.of(layers).nights == 10);
  }
}
