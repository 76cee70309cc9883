#include "daemon/climate/trend.h"

#include <algorithm>
#include <span>

namespace rimeward {
namespace {

constexpr std::chrono::minutes kShortest{20};

double hours_before(Instant newest, Instant at) {
  return -std::chrono::duration<double, std::ratio<3600>>(newest - at).count();
}

}  // namespace

Kelvins slope_per_hour(std::span<const TimedValue> readings) {
  const Instant newest = readings.back().at;
  double mean_hours = 0;
  double mean_value = 0;
  for (const TimedValue& reading : readings) {
    mean_hours += hours_before(newest, reading.at);
    mean_value += reading.value;
  }
  const auto count = static_cast<double>(readings.size());
  mean_hours /= count;
  mean_value /= count;
  double covariance = 0;
  double variance = 0;
  for (const TimedValue& reading : readings) {
    const double hours = hours_before(newest, reading.at) - mean_hours;
    covariance += hours * (reading.value - mean_value);
    variance += hours * hours;
  }
  return {covariance / variance};
}

std::optional<Trend> trend(const Series& air, Instant now,
                           std::chrono::minutes freshness) {
  const auto newest = air.newest_at_or_before(now, freshness);
  if (!newest) return std::nullopt;
  // between() leaves its first instant out.
  const auto readings =
      air.between(newest->at - kTrendSpan - std::chrono::seconds{1}, newest->at);
  if (readings.back().at - readings.front().at < kShortest) return std::nullopt;
  return Trend{.at = newest->at,
               .air = Celsius{newest->value},
               .per_hour = slope_per_hour(readings)};
}

std::optional<TimedValue> lowest_between(const Series& air, Instant from, Instant to) {
  const auto readings = air.between(from - std::chrono::seconds{1}, to);
  const auto lowest = std::ranges::min_element(readings, {}, &TimedValue::value);
  if (lowest == readings.end()) return std::nullopt;
  return *lowest;
}

}  // namespace rimeward
