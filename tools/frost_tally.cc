#include "tools/frost_tally.h"

#include <algorithm>
#include <vector>

namespace rimeward {
namespace {

// Notices about a night end at its sunrise.
std::vector<const NoticeRow*> told_of(const RehearsedNight& night, std::string_view kind,
                                      const Rehearsal& rehearsal, const Zone& zone) {
  std::vector<const NoticeRow*> told;
  for (const NoticeRow& notice : rehearsal.notices) {
    if (notice.kind != kind || notice.place != night.place || !notice.ends_at) continue;
    if (zone.local_date(*notice.ends_at) == std::chrono::year_month_day{night.night}) {
      told.push_back(&notice);
    }
  }
  return told;
}

}  // namespace

FrostTally frost_tally(const Rehearsal& rehearsal, const std::string& place,
                       const Zone& zone) {
  FrostTally tally;
  for (const RehearsedNight& night : rehearsal.nights) {
    if (night.place != place || !night.low || !night.keep_above) continue;
    const auto covers = told_of(night, "cover", rehearsal, zone);
    const bool in_danger = !told_of(night, "danger", rehearsal, zone).empty();
    ++tally.nights;
    tally.most_covers =
        std::max(tally.most_covers, static_cast<std::int64_t>(covers.size()));
    if (*night.low >= *night.keep_above) {
      tally.covers_for_nothing += covers.empty() ? 0 : 1;
      tally.dangers_for_nothing += in_danger ? 1 : 0;
      continue;
    }
    ++tally.frosts;
    if (covers.empty()) {
      ++(in_danger ? tally.danger_alone : tally.untold);
    } else {
      const bool early = night.sunset && covers.front()->raised_at < *night.sunset;
      ++(early ? tally.before_sunset : tally.after_sunset);
    }
  }
  return tally;
}

}  // namespace rimeward
