#include "daemon/climate/opinion.h"

#include <algorithm>
#include <cmath>
#include <initializer_list>
#include <optional>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "daemon/climate/saved_json.h"

namespace rimeward {
namespace {

using Json = nlohmann::json;

constexpr int kVersion = 1;      // of the saved text; restore() refuses another
constexpr double kKept = 0.995;  // of the sums, from night to night

// The prior, in nights: as if on so many the constant had been seen to be nothing, and on
// so many, with the opinion one spread of the own outlook off it, the share.
constexpr double kNightsWithoutConstant = 3.0;
constexpr double kNightsWithoutShare = 3.0;

// Opinions further beyond the own low count as this far, in kelvins: one absurd number
// must not outweigh a year.
constexpr double kFarthest = 15.0;
// From so many nights on an opinion is strange that lies so many standard deviations off
// the middle of what was said beyond the own lows.
constexpr double kFewestToTell = 5.0;
constexpr double kStrange = 4.0;
constexpr double kPriorNights = 3.0;  // of a deviation of 2 K
constexpr double kPriorVariance = 4.0;

constexpr double kLeastNews = 0.03;  // weight of the newest error
constexpr double kLeastError = 0.01;
constexpr double kOutlier = 9.0;  // times the usual squared error: more counts as this
constexpr double kStretchStep = 0.05;
constexpr double kBeyond = 0.1;  // share of nights to lie beyond each side of the range
constexpr double kLeastStretch = 0.5;
constexpr double kMostStretch = 2.0;

constexpr double kCreditKept = 0.99;  // from night to night; the rest goes to the first
constexpr double kMostNews = 2.0;     // of one night
constexpr double kLeastCredit = -4.0;
constexpr double kMostCredit = 3.0;  // soon lost by an opinion that has gone bad

double squared(double value) {
  return value * value;
}

double mixed(double from, double to, double share) {
  return from + share * (to - from);
}

Kelvins times(double factor, Kelvins kelvins) {
  return {factor * kelvins.degrees};
}

Celsius capped(Celsius low, std::optional<Celsius> running_low) {
  return running_low ? std::min(low, *running_low) : low;
}

double variance_of(const Outlook& own) {
  return squared(0.5 * (own.spread_below.degrees + own.spread_above.degrees));
}

double said_beyond(const Outlook& own, Celsius said) {
  return std::clamp((said - own.low).degrees, -kFarthest, kFarthest);
}

double stretched(double stretch, bool beyond) {
  const double step = kStretchStep * ((beyond ? 1.0 : 0.0) - kBeyond);
  return std::clamp(stretch * std::exp(step), kLeastStretch, kMostStretch);
}

// What is usually said beyond the own lows.
struct Usual {
  double middle;
  double farthest;  // from the middle, before it is strange
};

std::optional<Usual> usual(const OpinionMerit& merit) {
  if (merit.nights < kFewestToTell) return std::nullopt;
  const double middle = merit.said / merit.nights;
  const double scatter = std::max(0.0, merit.said_squared - merit.said * middle);
  const double variance =
      (scatter + kPriorNights * kPriorVariance) / (merit.nights + kPriorNights);
  return Usual{middle, kStrange * std::sqrt(variance)};
}

bool is_strange(const std::optional<Usual>& usual, double said_beyond) {
  return usual && std::abs(said_beyond - usual->middle) > usual->farthest;
}

bool is_within(double value, double least, double most) {
  return value >= least && value <= most;  // false for what is no number, too
}

// The outlook by the opinion, as if it were trusted wholly.
struct ByOpinion {
  Celsius low;
  Kelvins spread_below;
  Kelvins spread_above;
};

ByOpinion by_opinion(const OpinionMerit& merit, const Outlook& own, double said_beyond) {
  const double nights = merit.nights + kNightsWithoutConstant;
  const double square = merit.said_squared + kNightsWithoutShare * variance_of(own);
  const double determinant = nights * square - squared(merit.said);
  const double share =
      (nights * merit.said_by_came - merit.said * merit.came) / determinant;
  const double constant =
      (square * merit.came - merit.said * merit.said_by_came) / determinant;
  // One that says the opposite of what comes is worth nothing all the same.
  const Kelvins shift{share > 0.0 ? constant + share * said_beyond : 0.0};
  const double wider = std::sqrt(merit.error);
  return {.low = capped(own.low + shift, own.running_low),
          .spread_below = times(wider * merit.stretch_below, own.spread_below),
          .spread_above = times(wider * merit.stretch_above, own.spread_above)};
}

// Takes in how that did on one night.
void judge(OpinionMerit& merit, const Outlook& own, const ByOpinion& other, Celsius low) {
  const double variance = variance_of(own);
  const double error = squared((low - other.low).degrees) / variance;
  const double own_error = squared((low - own.low).degrees) / variance;
  // The logarithm of the likelihood ratio of two normal curves of the own outlook's
  // width.
  const double gain = std::clamp(0.5 * (own_error - error), -kMostNews, kMostNews);
  merit.credit =
      std::clamp(mixed(OpinionMerit{}.credit, merit.credit, kCreditKept) + gain,
                 kLeastCredit, kMostCredit);
  const double news = std::max(1.0 / (merit.error_nights + 1.0), kLeastNews);
  merit.error = std::max(
      mixed(merit.error, std::min(error, kOutlier * merit.error), news), kLeastError);
  merit.error_nights += 1.0;
  merit.stretch_below =
      stretched(merit.stretch_below, low < other.low - range_side(other.spread_below));
  merit.stretch_above =
      stretched(merit.stretch_above, low > other.low + range_side(other.spread_above));
}

bool is_sound(const OpinionMerit& merit) {
  for (const double sum : {merit.said, merit.came, merit.said_by_came}) {
    if (!std::isfinite(sum)) return false;
  }
  constexpr double kMostNights = 1.0 / (1.0 - kKept);
  constexpr double kRounding = 1.0 + 1e-9;
  return is_within(merit.nights, 0.0, kMostNights * kRounding) &&
         is_within(merit.said_squared, 0.0,
                   kMostNights * squared(kFarthest) * kRounding) &&
         squared(merit.said) <= merit.nights * merit.said_squared * kRounding &&
         merit.error >= kLeastError && std::isfinite(merit.error) &&
         std::isfinite(merit.error_nights) &&
         merit.error_nights >= OpinionMerit{}.error_nights &&
         is_within(merit.stretch_below, kLeastStretch, kMostStretch) &&
         is_within(merit.stretch_above, kLeastStretch, kMostStretch) &&
         is_within(merit.credit, kLeastCredit, kMostCredit);
}

}  // namespace

Outlook Opinion::blended(const Outlook& own, Celsius said) const {
  const OpinionMerit& merit = merits_.at(index_of(own.moment));
  const double beyond = said_beyond(own, said);
  if (is_strange(usual(merit), beyond)) return own;
  const ByOpinion other = by_opinion(merit, own, beyond);
  const double trust = 1.0 / (1.0 + std::exp(-merit.credit));
  Outlook blend = own;
  blend.low = {mixed(own.low.degrees, other.low.degrees, trust)};
  blend.spread_below = {
      mixed(own.spread_below.degrees, other.spread_below.degrees, trust)};
  blend.spread_above = {
      mixed(own.spread_above.degrees, other.spread_above.degrees, trust)};
  blend.low10 = blend.low - range_side(blend.spread_below);
  blend.low90 = capped(blend.low + range_side(blend.spread_above), own.running_low);
  return blend;
}

void Opinion::learn(const Outlook& own, Celsius said, Celsius low) {
  OpinionMerit& merit = merits_.at(index_of(own.moment));
  const auto before = usual(merit);
  double beyond = said_beyond(own, said);
  if (is_strange(before, beyond)) {
    beyond = std::clamp(beyond, before->middle - before->farthest,
                        before->middle + before->farthest);
  } else {
    judge(merit, own, by_opinion(merit, own, beyond), low);
  }
  const double came = (low - own.low).degrees;
  merit.nights = kKept * merit.nights + 1.0;
  merit.said = kKept * merit.said + beyond;
  merit.said_squared = kKept * merit.said_squared + squared(beyond);
  merit.came = kKept * merit.came + came;
  merit.said_by_came = kKept * merit.said_by_came + beyond * came;
}

std::string Opinion::save() const {
  Json json{{"version", kVersion}};
  for (const Moment moment : kMoments) {
    const OpinionMerit& merit = merits_.at(index_of(moment));
    json[std::string{name_of(moment)}] = {{"nights", merit.nights},
                                          {"said", merit.said},
                                          {"said_squared", merit.said_squared},
                                          {"came", merit.came},
                                          {"said_by_came", merit.said_by_came},
                                          {"error", merit.error},
                                          {"error_nights", merit.error_nights},
                                          {"stretch_below", merit.stretch_below},
                                          {"stretch_above", merit.stretch_above},
                                          {"credit", merit.credit}};
  }
  return json.dump();
}

Result<Opinion> Opinion::restore(std::string_view text) {
  return read_saved("opinion", kVersion, text, [](const Json& json) {
    Opinion opinion;
    for (const Moment moment : kMoments) {
      const Json& its = json.at(std::string{name_of(moment)});
      const auto number = [&its](const char* key) { return its.at(key).get<double>(); };
      const OpinionMerit merit{.nights = number("nights"),
                               .said = number("said"),
                               .said_squared = number("said_squared"),
                               .came = number("came"),
                               .said_by_came = number("said_by_came"),
                               .error = number("error"),
                               .error_nights = number("error_nights"),
                               .stretch_below = number("stretch_below"),
                               .stretch_above = number("stretch_above"),
                               .credit = number("credit")};
      if (!is_sound(merit)) {
        unsound(fmt::format("what it was worth at {} is not sound", name_of(moment)));
      }
      opinion.merits_.at(index_of(moment)) = merit;
    }
    return opinion;
  });
}

}  // namespace rimeward
