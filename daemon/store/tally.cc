#include "daemon/store/tally.h"

#include <chrono>

namespace rimeward {

Extremes extremes_of(const ReadingRow& reading) {
  return {.low = reading.value,
          .low_at = reading.time,
          .high = reading.value,
          .high_at = reading.time,
          .sum = reading.value,
          .count = 1,
          .hours = 1};
}

void merge(Extremes& into, const Extremes& other) {
  if (other.low < into.low || (other.low == into.low && other.low_at < into.low_at)) {
    into.low = other.low;
    into.low_at = other.low_at;
  }
  if (other.high > into.high ||
      (other.high == into.high && other.high_at < into.high_at)) {
    into.high = other.high;
    into.high_at = other.high_at;
  }
  into.sum += other.sum;
  into.count += other.count;
  into.hours += other.hours;
}

void Tally::add(const ReadingRow& reading) {
  put(reading.series, std::chrono::floor<std::chrono::hours>(reading.time),
      extremes_of(reading));
}

void Tally::add_hour(SeriesId series, Instant hour, const Extremes& extremes) {
  put(series, hour, extremes);
}

void Tally::put(SeriesId series, Instant hour, const Extremes& extremes) {
  const auto [found, is_first] = entries_.try_emplace(series, Entry{extremes, hour});
  if (is_first) return;
  Entry& entry = found->second;
  merge(entry.extremes, extremes);
  if (entry.last_hour == hour) --entry.extremes.hours;
  entry.last_hour = hour;
}

std::vector<std::pair<SeriesId, Extremes>> Tally::result() const {
  std::vector<std::pair<SeriesId, Extremes>> result;
  result.reserve(entries_.size());
  for (const auto& [series, entry] : entries_) {
    result.emplace_back(series, entry.extremes);
  }
  return result;
}

}  // namespace rimeward
