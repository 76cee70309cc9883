#include "daemon/rhythm.h"

#include <algorithm>

namespace rimeward {

void Rhythm::heard(Instant at) {
  const auto place = std::ranges::lower_bound(times_, at);
  if (place != times_.end() && *place == at) return;
  times_.insert(place, at);
  if (times_.size() > kReadings) times_.erase(times_.begin());
  measure();
}

std::optional<Instant> Rhythm::last_heard() const {
  if (times_.empty()) return std::nullopt;
  return times_.back();
}

void Rhythm::measure() {
  std::vector<std::chrono::seconds> all = gaps();
  usual_gap_.reset();
  long_gap_.reset();
  if (all.size() < 2) return;
  std::ranges::sort(all);
  usual_gap_ = all[all.size() / 2];
  long_gap_ = all[all.size() - 2];
}

std::vector<std::chrono::seconds> Rhythm::gaps() const {
  std::vector<std::chrono::seconds> gaps;
  for (std::size_t i = 1; i < times_.size(); ++i) {
    const bool recent = times_[i - 1] >= times_.back() - kSpan;
    if (recent) gaps.push_back(times_[i] - times_[i - 1]);
  }
  return gaps;
}

}  // namespace rimeward
