#include "daemon/climate/verification.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <numbers>

namespace rimeward {
namespace {

constexpr std::array kOddsEdges{0.0, 0.05, 0.2, 0.4, 0.6, 0.8, 0.95, 1.0};

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

double density(double z) {
  return std::exp(-0.5 * z * z) * std::numbers::inv_sqrtpi / std::numbers::sqrt2;
}

double share_above(double z) {
  return 0.5 * std::erfc(z / std::numbers::sqrt2);
}

// The integral of share_above squared, from z on.
double squared_tail(double z) {
  const double above = share_above(z);
  return above * (2.0 * density(z) - z * above) -
         std::numbers::inv_sqrtpi * share_above(std::numbers::sqrt2 * z);
}

// The score of a standard normal forecast where z came: the squared tails on both sides.
double normal_score(double z) {
  return z * (1.0 - 2.0 * share_above(z)) + 2.0 * density(z) - std::numbers::inv_sqrtpi;
}

std::size_t bin_of(Odds odds) {
  const auto above = std::ranges::upper_bound(kOddsEdges, odds.value);
  const auto bin = static_cast<std::size_t>(above - kOddsEdges.begin()) - 1;
  return std::min(bin, kOddsEdges.size() - 2);
}

}  // namespace

VerifiedOutlook verified(const Outlook& outlook, Celsius threshold, Celsius came) {
  return {.low = outlook.low,
          .low10 = outlook.low10,
          .low90 = outlook.low90,
          .odds = odds_below(outlook, threshold),
          .came = came,
          .ranked = ranked_score(outlook, came)};
}

Kelvins ranked_score(const Outlook& outlook, Celsius came) {
  const double off = (came - outlook.low).degrees;
  const double below = outlook.spread_below.degrees;
  const double above = outlook.spread_above.degrees;
  // The side on which the low came has all of the score but one tail, the other side has
  // that.
  const double tail = squared_tail(0.0);
  double score = off < 0.0 ? below * (normal_score(off / below) - tail) + above * tail
                           : above * (normal_score(off / above) - tail) + below * tail;
  if (outlook.running_low) {
    // Beyond it the odds are 1, and right.
    const double end = (*outlook.running_low - outlook.low).degrees;
    score -= above * squared_tail(end / above);
  }
  return {score};
}

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
  double signed_errors = 0.0;
  double ranges = 0.0;
  double ranked = 0.0;
  double squares = 0.0;
  std::int64_t inside = 0;
  for (const VerifiedOutlook& outlook : outlooks) {
    const bool came = outlook.came <= threshold;
    const double error = (outlook.low - outlook.came).degrees;
    errors += std::abs(error);
    signed_errors += error;
    ranges += (outlook.low90 - outlook.low10).degrees;
    ranked += outlook.ranked.degrees;
    inside += outlook.low10 <= outlook.came && outlook.came <= outlook.low90 ? 1 : 0;
    const double miss = outlook.odds.value - (came ? 1.0 : 0.0);
    squares += miss * miss;
    count_call(scores.calls, outlook.odds >= call_at, came);
  }
  scores.nights = static_cast<std::int64_t>(outlooks.size());
  const auto nights = static_cast<double>(scores.nights);
  scores.mean_absolute_error = Kelvins{errors / nights};
  scores.bias = Kelvins{signed_errors / nights};
  scores.mean_range = Kelvins{ranges / nights};
  scores.mean_ranked = Kelvins{ranked / nights};
  scores.share_in_range = static_cast<double>(inside) / nights;
  scores.brier = squares / nights;
  return scores;
}

std::optional<double> brier_skill(double brier, double baseline) {
  if (baseline == 0.0) return std::nullopt;
  return 1.0 - brier / baseline;
}

std::vector<OddsBin> reliability(std::span<const VerifiedOutlook> outlooks,
                                 Celsius threshold) {
  std::vector<OddsBin> bins;
  for (std::size_t i = 0; i + 1 < kOddsEdges.size(); ++i) {
    bins.push_back({.from = {kOddsEdges.at(i)}, .below = {kOddsEdges.at(i + 1)}});
  }
  for (const VerifiedOutlook& outlook : outlooks) {
    OddsBin& bin = bins[bin_of(outlook.odds)];
    ++bin.nights;
    bin.mean.value += outlook.odds.value;
    bin.share_came += outlook.came <= threshold ? 1.0 : 0.0;
  }
  std::erase_if(bins, [](const OddsBin& bin) { return bin.nights == 0; });
  for (OddsBin& bin : bins) {
    bin.mean.value /= static_cast<double>(bin.nights);
    bin.share_came /= static_cast<double>(bin.nights);
  }
  return bins;
}

}  // namespace rimeward
