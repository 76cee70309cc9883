#include "daemon/climate/cover.h"

#include <algorithm>
#include <cmath>

#include "daemon/climate/humidity.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;

// How much of a night's lift shows when, by the simulation of a covered place in
// tests/support/covered_place.h, over four years of real weather: some three quarters of
// it an hour after the cover went on in the evening, the rest evenly until sunrise.
constexpr std::chrono::hours kBeforeSunset{3};
constexpr std::chrono::duration<double> kGrows = 1h;
constexpr double kAtOnce = 0.75;

// The humidity at which air brought from one temperature to another keeps its vapour.
double humidity_at(double humidity, Celsius from, Celsius to) {
  return std::min(100.0,
                  relative_humidity(vapour_pressure(from, {humidity}), to).percent);
}

}  // namespace

int layers_at(std::span<const CoverChange> history, Instant at) {
  const auto after = std::ranges::upper_bound(history, at, {}, &CoverChange::since);
  return after == history.begin() ? 0 : std::prev(after)->layers;
}

bool was_covered(std::span<const CoverChange> history) {
  return std::ranges::any_of(history,
                             [](const CoverChange& change) { return change.layers > 0; });
}

std::optional<int> layers_over(std::span<const CoverChange> history, const Night& night) {
  const Instant from = whole_second(night.sunset) + kCoverGrace;
  const Instant to = whole_second(night.sunrise);
  const int layers = layers_at(history, from);
  const bool changed = std::ranges::any_of(history, [&](const CoverChange& change) {
    return change.since > from && change.since < to && change.layers != layers;
  });
  return changed ? std::nullopt : std::optional(layers);
}

Kelvins lift_at(std::span<const CoverChange> history, const Lifts& lifts,
                const Night& night, Instant at) {
  const SunTime from = night.sunset - kBeforeSunset;
  if (at < from || at >= end_of(night)) return {};
  const auto after = std::ranges::upper_bound(history, at, {}, &CoverChange::since);
  if (after == history.begin() || std::prev(after)->layers == 0) return {};
  const CoverChange& cover = *std::prev(after);
  const double grown =
      std::min(1.0, (at - std::max<SunTime>(cover.since, from)) / kGrows);
  const double passed =
      std::clamp((at - night.sunset) / (night.sunrise - night.sunset), 0.0, 1.0);
  const double share = grown * (kAtOnce + (1.0 - kAtOnce) * passed);
  return {share * lifts.of(cover.layers).added.degrees};
}

Recents as_if_uncovered(const Recents& recents, std::span<const CoverChange> history,
                        const Lifts& lifts, std::span<const Night> nights) {
  const auto lift = [&](Instant at) {
    double added = 0;
    for (const Night& night : nights)
      added += lift_at(history, lifts, night, at).degrees;
    return Kelvins{added};
  };
  Recents uncovered;
  uncovered.pressure = recents.pressure;
  for (const TimedValue& reading : recents.air.values()) {
    uncovered.air.insert(reading.at, reading.value - lift(reading.at).degrees);
  }
  for (const TimedValue& reading : recents.humidity.values()) {
    const auto air = recents.air.newest_at_or_before(reading.at, kAirForHumidity);
    double humidity = reading.value;
    if (const Kelvins added = lift(reading.at); air && added.degrees != 0.0) {
      humidity = humidity_at(humidity, {air->value}, Celsius{air->value} - added);
    }
    uncovered.humidity.insert(reading.at, humidity);
  }
  return uncovered;
}

Outlook under(const Outlook& uncovered, const Lift& lift) {
  Outlook covered = uncovered;
  covered.running_low.reset();
  const auto widened = [&lift](Kelvins spread) {
    return Kelvins{std::hypot(spread.degrees, lift.spread.degrees)};
  };
  covered.spread_below = widened(uncovered.spread_below);
  covered.spread_above = widened(uncovered.spread_above);
  covered.low = uncovered.low + lift.added;
  covered.low10 = covered.low - range_side(covered.spread_below);
  covered.low90 = covered.low + range_side(covered.spread_above);
  return covered;
}

}  // namespace rimeward
