#include "tools/cli/record.h"

#include <algorithm>
#include <optional>
#include <vector>

#include "daemon/climate/outlook.h"
#include "daemon/store/outlook_rows.h"

namespace rimeward {
namespace {

std::optional<Celsius> uncovered_low(const NightRow& night) {
  if (!night.low || !night.layers) return std::nullopt;
  return *night.low - Kelvins{night.lift};
}

}  // namespace

OutlookScores record_of(const Store& store, const Place& place,
                        std::chrono::sys_days tonight) {
  const auto first = tonight - kRecordSpan;
  const auto last = tonight - std::chrono::days{1};
  const std::vector<NightRow> nights = store.nights(place.id, first, last);
  std::vector<VerifiedOutlook> outlooks;
  // Any threshold gives the same errors and ranges; without keep-above its calls are
  // thrown away.
  const Celsius threshold = place.keep_above.value_or(Celsius{0});
  for (const OutlookRow& row : store.outlooks(place.id, first, last)) {
    if (row.moment != static_cast<int>(Moment::kDusk)) continue;
    const auto night = std::ranges::find(nights, row.night, &NightRow::night);
    if (night == nights.end()) continue;
    if (const auto came = uncovered_low(*night)) {
      outlooks.push_back(verified(outlook_of(row), threshold, *came));
    }
  }
  OutlookScores scores = scores_of(outlooks, threshold, place.act_at);
  if (!place.keep_above) scores.calls = {};
  return scores;
}

}  // namespace rimeward
