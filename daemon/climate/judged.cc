#include "daemon/climate/judged.h"

#include <algorithm>
#include <array>
#include <cstdlib>
#include <span>
#include <vector>

namespace rimeward {
namespace {

// Fewer steps than these tell no noise.
constexpr std::size_t kFewestSteps = 4;
constexpr std::size_t kNoiseSteps = 16;
// Two that report as often seldom do so at the same moment.
constexpr std::chrono::minutes kSensorsApart{5};

}  // namespace

JudgedReadings::Index JudgedReadings::first_after(Instant time) const {
  if (readings_.empty() || readings_.back().time <= time) return readings_.size();
  const auto place =
      std::ranges::upper_bound(readings_, time, std::less{}, &JudgedReading::time);
  return static_cast<Index>(place - readings_.begin());
}

JudgedReadings::Index JudgedReadings::insert(const JudgedReading& reading) {
  if (!readings_.empty() && readings_.back().time < reading.time)
    forget_before(reading.time - kOldest);
  const Index index = first_after(reading.time);
  readings_.insert(readings_.begin() + static_cast<std::ptrdiff_t>(index), reading);
  return index;
}

std::optional<JudgedReading> JudgedReadings::at(Instant time) const {
  const Index after = first_after(time);
  if (after == 0 || readings_[after - 1].time != time) return std::nullopt;
  return readings_[after - 1];
}

void JudgedReadings::trim() {
  if (readings_.empty()) return;
  forget_before(readings_.back().time - kOldest);
  while (readings_.size() > kMost)
    readings_.pop_front();
}

void JudgedReadings::forget_before(Instant oldest) {
  while (!readings_.empty() && readings_.front().time < oldest)
    readings_.pop_front();
}

std::optional<JudgedReadings::Index> JudgedReadings::believed_before(Index index) const {
  const Instant from = readings_[index].time - kReach;
  while (index > 0 && readings_[index - 1].time >= from) {
    if (is_believed(--index)) return index;
  }
  return std::nullopt;
}

std::optional<JudgedReadings::Index> JudgedReadings::believed_after(Index index) const {
  const Instant to = readings_[index].time + kReach;
  while (++index < readings_.size() && readings_[index].time <= to) {
    if (is_believed(index)) return index;
  }
  return std::nullopt;
}

std::optional<JudgedReadings::Index> JudgedReadings::said_before(Index index) const {
  const Instant from = readings_[index].time - kReach;
  while (index > 0 && readings_[index - 1].time >= from) {
    if (!is_held(--index)) return index;
  }
  return std::nullopt;
}

std::optional<JudgedReadings::Index> JudgedReadings::said_after(Index index) const {
  const Instant to = readings_[index].time + kReach;
  while (++index < readings_.size() && readings_[index].time <= to) {
    if (!is_held(index)) return index;
  }
  return std::nullopt;
}

Milli JudgedReadings::noise_before(Index index) const {
  std::array<Milli, kNoiseSteps> steps{};
  std::size_t count = 0;
  auto later = believed_before(index);
  while (later && count < steps.size()) {
    const auto earlier = believed_before(*later);
    if (!earlier) break;
    steps[count++] = std::abs(readings_[*later].value - readings_[*earlier].value);
    later = earlier;
  }
  if (count < kFewestSteps) return 0;
  const std::span known(steps.begin(), count);
  std::ranges::nth_element(known, known.begin() + static_cast<std::ptrdiff_t>(count / 2));
  return known[count / 2];
}

std::optional<Milli> JudgedReadings::smallest_step() const {
  std::vector<Milli> steps;
  std::optional<Milli> last;
  for (const JudgedReading& reading : readings_) {
    if (reading.state != JudgedReading::State::kBelieved) continue;
    if (last && *last != reading.value) steps.push_back(std::abs(reading.value - *last));
    last = reading.value;
  }
  if (steps.empty()) return std::nullopt;
  // A correction that begins makes one step of any size: a tenth may be smaller.
  const auto place = steps.begin() + static_cast<std::ptrdiff_t>(steps.size() / 10);
  std::ranges::nth_element(steps, place);
  return *place;
}

std::optional<JudgedReadings::Index> JudgedReadings::standing_at(
    Instant time, std::chrono::seconds tolerance) const {
  Index index = first_after(time);
  while (index > 0 && readings_[index - 1].time >= time - tolerance) {
    if (is_believed(--index)) return index;
  }
  return std::nullopt;
}

std::optional<Milli> JudgedReadings::rise(Instant from, Instant to) const {
  // What rose over a much longer time tells nothing of this one.
  const auto tolerance = (to - from) + kSensorsApart;
  const auto before = standing_at(from, tolerance);
  const auto after = standing_at(to, tolerance);
  if (!before || !after || *before == *after) return std::nullopt;
  return readings_[*after].value - readings_[*before].value;
}

Milli JudgedReadings::moved(Instant from, Instant to) const {
  std::optional<Milli> lowest;
  std::optional<Milli> highest;
  bool is_newest = true;
  for (Index index = readings_.size(); index > 0;) {
    const JudgedReading& reading = readings_[--index];
    if (reading.state != JudgedReading::State::kBelieved) continue;
    if (reading.time < from - kReach) break;
    if (!is_newest && reading.time <= to) {
      lowest = std::min(lowest.value_or(reading.value), reading.value);
      highest = std::max(highest.value_or(reading.value), reading.value);
    }
    is_newest = false;
    if (reading.time <= from) break;
  }
  return lowest ? *highest - *lowest : 0;
}

}  // namespace rimeward
