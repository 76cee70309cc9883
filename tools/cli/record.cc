#include "tools/cli/record.h"

#include <algorithm>
#include <optional>
#include <vector>

#include "daemon/climate/outlook.h"
#include "daemon/store/outlook_rows.h"

namespace rimeward {

OutlookScores record_of(const Store& store, const Place& place,
                        std::chrono::sys_days tonight) {
  const auto first = tonight - kRecordSpan;
  const auto last = tonight - std::chrono::days{1};
  const std::vector<NightRow> nights = store.nights(place.id, first, last);
  std::vector<VerifiedOutlook> verified;
  // Any threshold gives the same errors and ranges; without keep-above its calls are
  // thrown away.
  const Celsius threshold = place.keep_above.value_or(Celsius{0});
  for (const OutlookRow& row : store.outlooks(place.id, first, last)) {
    if (row.moment != static_cast<int>(Moment::kDusk)) continue;
    const auto night = std::ranges::find(nights, row.night, &NightRow::night);
    const std::optional<Celsius> came = night != nights.end() ? night->low : std::nullopt;
    if (!came) continue;
    verified.push_back({.low = row.low,
                        .low10 = row.low10,
                        .low90 = row.low90,
                        .odds = odds_below(outlook_of(row), threshold),
                        .came = *came});
  }
  OutlookScores scores = scores_of(verified, threshold, place.act_at);
  if (!place.keep_above) scores.calls = {};
  return scores;
}

}  // namespace rimeward
