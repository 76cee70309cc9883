#include "daemon/store/past_outlooks.h"

#include <algorithm>
#include <optional>

#include "daemon/climate/outlook.h"
#include "daemon/store/outlook_rows.h"

namespace rimeward {
namespace {

std::optional<Celsius> uncovered_low(const NightRow& night) {
  if (!night.low || !night.layers) return std::nullopt;
  return *night.low - Kelvins{night.lift};
}

}  // namespace

std::vector<VerifiedOutlook> past_outlooks(const Store& store, const Place& place,
                                           std::chrono::sys_days first,
                                           std::chrono::sys_days last) {
  const std::vector<NightRow> nights = store.nights(place.id, first, last);
  std::vector<VerifiedOutlook> outlooks;
  for (const OutlookRow& row : store.outlooks(place.id, first, last)) {
    if (row.moment != static_cast<int>(Moment::kDusk)) continue;
    const auto night = std::ranges::find(nights, row.night, &NightRow::night);
    if (night == nights.end()) continue;
    if (const auto came = uncovered_low(*night)) {
      outlooks.push_back(verified(outlook_of(row), odds_threshold(place), *came));
    }
  }
  return outlooks;
}

Celsius odds_threshold(const Place& place) {
  return place.keep_above.value_or(Celsius{0});
}

}  // namespace rimeward
