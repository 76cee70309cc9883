#include "daemon/climate/verification.h"

#include <cmath>

namespace rimeward {
namespace {

std::optional<double> share(std::int64_t part, std::int64_t rest) {
  if (part + rest == 0) return std::nullopt;
  return static_cast<double>(part) / static_cast<double>(part + rest);
}

void count_call(YesNoTable& table, bool called, bool came) {
  if (came) {
    ++(called ? table.caught : table.missed);
  } else {
    ++(called ? table.false_calls : table.quiet);
  }
}

}  // namespace

std::optional<double> probability_of_detection(const YesNoTable& table) {
  return share(table.caught, table.missed);
}

std::optional<double> false_alarm_ratio(const YesNoTable& table) {
  return share(table.false_calls, table.caught);
}

OutlookScores scores_of(std::span<const VerifiedOutlook> outlooks, Celsius threshold,
                        Odds call_at) {
  OutlookScores scores;
  if (outlooks.empty()) return scores;
  double errors = 0.0;
  double ranges = 0.0;
  double squares = 0.0;
  std::int64_t inside = 0;
  for (const VerifiedOutlook& outlook : outlooks) {
    const bool came = outlook.came <= threshold;
    errors += std::abs((outlook.low - outlook.came).degrees);
    ranges += (outlook.low90 - outlook.low10).degrees;
    inside += outlook.low10 <= outlook.came && outlook.came <= outlook.low90 ? 1 : 0;
    const double miss = outlook.odds.value - (came ? 1.0 : 0.0);
    squares += miss * miss;
    count_call(scores.calls, outlook.odds >= call_at, came);
  }
  scores.nights = static_cast<std::int64_t>(outlooks.size());
  const auto nights = static_cast<double>(scores.nights);
  scores.mean_absolute_error = Kelvins{errors / nights};
  scores.mean_range = Kelvins{ranges / nights};
  scores.share_in_range = static_cast<double>(inside) / nights;
  scores.brier = squares / nights;
  return scores;
}

}  // namespace rimeward
