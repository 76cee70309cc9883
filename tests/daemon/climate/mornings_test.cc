#include "daemon/climate/mornings.h"

#include <algorithm>
#include <chrono>
#include <cmath>
#include <numbers>
#include <optional>
#include <string>
#include <string_view>

#include <doctest/doctest.h>

#include "sensors/iso_time.h"
#include "tests/support/saved_text.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;

Instant at(std::string_view text) {
  return parse_instant(text).value();
}

// Twelve hours of sun, the same every day.
struct Day {
  Instant sunrise = at("2026-04-01T06:00:00Z");
  Instant noon = at("2026-04-01T12:00:00Z");

  Day after(int days) const {
    return {sunrise + std::chrono::days{days}, noon + std::chrono::days{days}};
  }
};

// A course that gains `rise` from 8 °C at sunrise to two in the afternoon, as half a
// wave.
double course(const Day& day, Instant now, double rise) {
  const double share = std::clamp((now - day.sunrise) / (8.0 * 3600s), 0.0, 1.0);
  return 8.0 + rise * (1 - std::cos(std::numbers::pi * share)) / 2;
}

void read(Series& air, const Day& day, double rise, std::chrono::seconds step,
          Instant until) {
  for (Instant now = day.sunrise - 3h; now <= until; now += step) {
    air.insert(now, course(day, now, rise));
  }
}

void read(Series& air, const Day& day, double rise, std::chrono::seconds step = 10min) {
  read(air, day, rise, step, day.noon + 3h);
}

Mornings taught(int mornings, double rise) {
  Mornings taught;
  for (int i = 0; i < mornings; ++i) {
    const Day day = Day{}.after(i);
    Series air;
    read(air, day, rise);
    taught.learn(air, day.sunrise, day.noon);
  }
  return taught;
}

std::optional<Instant> crossing(const Mornings& mornings, double rise, Instant now,
                                double threshold, std::chrono::seconds step = 10min) {
  Series air;
  const Day today;
  read(air, today, rise, step, now);
  return mornings.crossing(air, today.sunrise, today.noon, now, {threshold});
}

// The first look, every five minutes from sunrise on, that calls the crossing.
std::optional<Instant> first_call(const Mornings& mornings, double rise, double threshold,
                                  std::chrono::seconds step = 10min) {
  for (Instant now = Day{}.sunrise; now < Day{}.noon; now += 5min) {
    if (crossing(mornings, rise, now, threshold, step)) return now;
  }
  return std::nullopt;
}

// When the course itself comes to the threshold.
Instant truly(double rise, double threshold) {
  Instant now = Day{}.sunrise;
  while (course({}, now, rise) < threshold)
    now += 1min;
  return now;
}

TEST_CASE(
    "a steady morning is called 15 to 120 minutes ahead, with the time about right") {
  const Mornings mornings = taught(14, 20);
  for (const auto step : {1min, 10min, 15min, 60min}) {
    CAPTURE(step.count());
    const auto called = first_call(mornings, 20, 22, step);
    REQUIRE(called);
    const Instant crosses = truly(20, 22);
    CHECK(crosses - *called >= 15min);
    CHECK(crosses - *called <= 120min);
    const Instant expected = *crossing(mornings, 20, *called, 22, step);
    CHECK(std::chrono::abs(expected - crosses) <= 30min);
  }
}

TEST_CASE("the first morning of all is called too") {
  const auto called = first_call(Mornings{}, 20, 22);
  REQUIRE(called);
  CHECK(truly(20, 22) - *called >= 15min);
}

TEST_CASE("past mornings that flattened below the threshold hold a call back") {
  // Today goes as a morning of 20 degrees; the place is used to far less, or to more.
  const auto of_flat = first_call(taught(14, 10), 20, 22);
  const auto of_steep = first_call(taught(14, 25), 20, 22);
  REQUIRE(of_flat);
  REQUIRE(of_steep);
  CHECK(*of_flat > *of_steep);
}

TEST_CASE("a morning that does not come near the threshold is not called") {
  CHECK_FALSE(first_call(taught(14, 10), 10, 22));
}

TEST_CASE("air that is there already crosses now, at any time of the day") {
  Series air;
  air.insert(at("2026-04-01T03:00:00Z"), 23.0);
  const Day day;
  const Instant now = at("2026-04-01T03:30:00Z");
  CHECK(Mornings{}.crossing(air, day.sunrise, day.noon, now, {22}) == now);
}

TEST_CASE("stale readings, a lone one, the night and the late afternoon tell nothing") {
  const Mornings mornings = taught(14, 20);
  const Day day;
  Series air;
  read(air, day, 20, 10min, at("2026-04-01T09:30:00Z"));
  const auto at_time = [&](Instant now) {
    return mornings.crossing(air, day.sunrise, day.noon, now, {17});
  };
  CHECK(at_time(at("2026-04-01T10:45:00Z")));
  CHECK_FALSE(at_time(at("2026-04-01T10:46:00Z")));
  Series lone;
  lone.insert(at("2026-04-01T09:30:00Z"), 19.9);
  CHECK_FALSE(
      mornings.crossing(lone, day.sunrise, day.noon, at("2026-04-01T09:30:00Z"), {20}));
  Series rising;  // an hour before sunrise, and 2.5 hours after noon
  for (const Instant last : {at("2026-04-01T05:00:00Z"), at("2026-04-01T14:30:00Z")}) {
    for (int ago = 60; ago >= 0; ago -= 10) {
      rising.insert(last - std::chrono::minutes{ago}, 19.9 - ago / 10.0);
    }
    CHECK_FALSE(mornings.crossing(rising, day.sunrise, day.noon, last, {20}));
  }
}

TEST_CASE("a reading after now changes no forecast") {
  const Mornings mornings = taught(5, 20);
  const Day day;
  Series air;
  read(air, day, 20, 10min, at("2026-04-01T09:40:00Z"));
  const Instant now = at("2026-04-01T09:45:00Z");
  const auto before = mornings.crossing(air, day.sunrise, day.noon, now, {17});
  air.insert(at("2026-04-01T09:46:00Z"), -5.0);
  CHECK(before);
  CHECK(mornings.crossing(air, day.sunrise, day.noon, now, {17}) == before);
}

TEST_CASE("what is learned becomes the usual morning") {
  const UsualMorning usual = taught(60, 20).usual();
  CHECK(usual.rise == doctest::Approx(20).epsilon(0.01));
  CHECK(usual.high->degrees == doctest::Approx(28).epsilon(0.01));
  CHECK(usual.gain.front() == doctest::Approx(0).epsilon(0.01));
  // A point a sixteenth of six hours on; the readings of every ten minutes between.
  const double three_hours = course({}, Day{}.sunrise + 3h, 20) - 8.0;
  CHECK(usual.gain.at(8) == doctest::Approx(three_hours).epsilon(0.01));
  // Nothing later than three hours after noon is in it.
  CHECK(usual.gain.back() == doctest::Approx(usual.gain.at(24)).epsilon(0.001));
}

TEST_CASE("a morning with a long gap teaches nothing") {
  const Day day;
  const auto learned_with_gap = [&](std::chrono::minutes gap) {
    Series air;
    read(air, day, 20);
    const Instant from = day.sunrise + 2h;
    for (Instant now = from + 10min; now < from + gap; now += 10min)
      air.erase(now);
    Mornings mornings;
    mornings.learn(air, day.sunrise, day.noon);
    return mornings.usual().mornings;
  };
  CHECK(learned_with_gap(100min) == 1);
  CHECK(learned_with_gap(110min) == 0);
  Mornings silent;
  silent.learn({}, day.sunrise, day.noon);
  CHECK(silent.usual() == Mornings{}.usual());
}

TEST_CASE("restored mornings go on to the last bit") {
  Mornings mornings = taught(7, 17.3);
  auto restored = Mornings::restore(mornings.save());
  REQUIRE(restored);
  CHECK(restored->usual() == mornings.usual());
  Series air;
  read(air, {}, 21.7);
  mornings.learn(air, Day{}.sunrise, Day{}.noon);
  restored->learn(air, Day{}.sunrise, Day{}.noon);
  CHECK(restored->save() == mornings.save());
  const auto fresh = Mornings::restore(Mornings{}.save());
  REQUIRE(fresh);
  CHECK(fresh->usual() == Mornings{}.usual());
}

TEST_CASE("text that was not saved is refused with its reason") {
  const std::string good = taught(2, 20).save();
  const auto with = [&good](const std::string& key, const std::string& value) {
    std::string text = good;
    const auto from = text.find("\"" + key + "\":") + key.size() + 3;
    const auto to = text.find_first_of(key == "gain" ? "]" : ",}", from);
    return text.replace(from, to - from + (key == "gain" ? 1 : 0), value);
  };
  CHECK(Mornings::restore(with("mornings", "3")));
  check_not_restored<Mornings>(
      {std::string{}, std::string{"[]"}, with("version", "2"), with("gain", "[1,2]"),
       with("rise", "1e300"), with("rise", "null"), with("mornings", "-1"),
       with("mornings", "14"), with("mornings", "0"), with("high", "null"),
       with("high", "1e999")},
      "saved mornings: ");
}

}  // namespace
}  // namespace rimeward
