#include "daemon/climate/recents.h"

#include <algorithm>
#include <iterator>
#include <ranges>

#include "daemon/climate/dew_point.h"

namespace rimeward {

bool Series::insert(Instant at, double value) {
  const auto begin = std::next(values_.begin(), static_cast<std::ptrdiff_t>(forgotten_));
  if (begin == values_.end() || values_.back().at < at) {
    values_.push_back({at, value});
    return true;
  }
  const auto place =
      std::ranges::lower_bound(begin, values_.end(), at, std::less{}, &TimedValue::at);
  if (place != values_.end() && place->at == at) return false;
  values_.insert(place, {at, value});
  return true;
}

bool Series::erase(Instant at) {
  const auto begin = std::next(values_.begin(), static_cast<std::ptrdiff_t>(forgotten_));
  const auto place =
      std::ranges::lower_bound(begin, values_.end(), at, std::less{}, &TimedValue::at);
  if (place == values_.end() || place->at != at) return false;
  values_.erase(place);
  return true;
}

void Series::forget_before(Instant oldest) {
  while (forgotten_ < values_.size() && values_[forgotten_].at < oldest)
    ++forgotten_;
  if (forgotten_ * 2 <= values_.size()) return;
  values_.erase(values_.begin(),
                std::next(values_.begin(), static_cast<std::ptrdiff_t>(forgotten_)));
  forgotten_ = 0;
}

std::span<const TimedValue> Series::values() const {
  return std::span{values_}.subspan(forgotten_);
}

std::span<const TimedValue> Series::between(SunTime from, SunTime to) const {
  const auto known = until(to);
  const auto first = std::ranges::partition_point(
      known, [from](const TimedValue& value) { return value.at <= from; });
  return {first, known.end()};
}

std::span<const TimedValue> Series::until(SunTime to) const {
  const auto all = values();
  const auto end = std::ranges::partition_point(
      all, [to](const TimedValue& value) { return value.at <= to; });
  return {all.begin(), end};
}

std::optional<TimedValue> Series::newest_at_or_before(
    SunTime at, std::chrono::duration<double> tolerance) const {
  const auto known = until(at);
  if (known.empty() || at - known.back().at > tolerance) return std::nullopt;
  return known.back();
}

std::optional<Celsius> newest_dew_point(const Recents& recents, SunTime at,
                                        std::chrono::duration<double> tolerance) {
  for (const TimedValue& humidity : recents.humidity.until(at) | std::views::reverse) {
    if (at - humidity.at > tolerance) return std::nullopt;
    const auto air = recents.air.newest_at_or_before(humidity.at, kAirForHumidity);
    if (air) return dew_point({air->value}, {humidity.value});
  }
  return std::nullopt;
}

std::optional<Celsius> mean_dew_point(const Recents& recents, SunTime from, SunTime to,
                                      std::size_t fewest) {
  const auto humidities = recents.humidity.between(from, to);
  const auto airs = recents.air.between(from - kAirForHumidity, to);
  double sum = 0.0;
  std::size_t count = 0;
  auto air = airs.begin();
  for (const TimedValue& humidity : humidities) {
    // Both are in order of time: `air` ends on the newest that is not after `humidity`.
    while (air != airs.end() && air->at <= humidity.at)
      ++air;
    if (air == airs.begin()) continue;
    const TimedValue& before = *std::prev(air);
    if (humidity.at - before.at > kAirForHumidity) continue;
    sum += dew_point({before.value}, {humidity.value}).degrees;
    ++count;
  }
  if (count < fewest) return std::nullopt;
  return Celsius{sum / static_cast<double>(count)};
}

}  // namespace rimeward
