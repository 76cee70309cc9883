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
  std::vector<std::chrono::seconds> all = gaps();
  if (all.size() < 2) return std::nullopt;
  const auto middle = all.begin() + static_cast<std::ptrdiff_t>(all.size() / 2);
  std::ranges::nth_element(all, middle);
  return *middle;
}

std::optional<std::chrono::seconds> Rhythm::long_gap() const {
  std::vector<std::chrono::seconds> all = gaps();
  if (all.size() < 2) return std::nullopt;
  std::ranges::nth_element(all, all.begin() + 1, std::ranges::greater{});
  return all[1];
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
