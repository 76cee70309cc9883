#include "daemon/rhythm.h"

#include <algorithm>

namespace rimeward {

void Rhythm::heard(Instant at) {
  const auto place = std::ranges::lower_bound(times_, at);
  if (place != times_.end() && *place == at) return;
  times_.insert(place, at);
  if (times_.size() > kReadings) times_.erase(times_.begin());
}

std::optional<Instant> Rhythm::last_heard() const {
  if (times_.empty()) return std::nullopt;
  return times_.back();
}

std::optional<std::chrono::seconds> Rhythm::usual_gap() const {
  std::vector<std::chrono::seconds> gaps;
  for (std::size_t i = 1; i < times_.size(); ++i) {
    const bool recent = times_[i - 1] >= times_.back() - kSpan;
    if (recent) gaps.push_back(times_[i] - times_[i - 1]);
  }
  if (gaps.size() < 2) return std::nullopt;
  const auto middle = gaps.begin() + static_cast<std::ptrdiff_t>(gaps.size() / 2);
  std::ranges::nth_element(gaps, middle);
  return *middle;
}

}  // namespace rimeward
