#include "tools/cli/record.h"

#include "daemon/store/past_outlooks.h"

namespace rimeward {

OutlookScores record_of(const Store& store, const Place& place,
                        std::chrono::sys_days tonight) {
  OutlookScores scores = scores_of(
      past_outlooks(store, place, tonight - kRecordSpan, tonight - std::chrono::days{1}),
      odds_threshold(place), place.act_at);
  // There was nothing to call.
  if (!place.keep_above) scores.calls = {};
  return scores;
}

}  // namespace rimeward
