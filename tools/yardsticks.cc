#include "tools/yardsticks.h"

#include <cmath>
#include <deque>
#include <numbers>

#include "daemon/climate/fao_regression.h"

namespace rimeward {
namespace {

constexpr std::size_t kFallNights = 14;
constexpr std::int64_t kFewestErrors = 5;

using Forecasts = std::array<std::optional<SimpleForecast>, kYardsticks.size()>;

// How far a yardstick was off so far. By the mean of the sizes, which a wild guess of its
// first nights upsets less than their squares.
class PastErrors {
 public:
  void add(Kelvins error) {
    sum_ += std::abs(error.degrees);
    ++count_;
  }

  std::optional<Odds> odds_below(Celsius threshold, Celsius low) const {
    if (count_ < kFewestErrors || sum_ <= 0.0) return std::nullopt;
    // Of a normal curve: its standard deviation is sqrt(pi/2) mean sizes.
    const double spread =
        sum_ / static_cast<double>(count_) * std::sqrt(std::numbers::pi / 2);
    const double z = (threshold - low).degrees / spread;
    return Odds{0.5 * std::erfc(-z / std::numbers::sqrt2)};
  }

 private:
  double sum_ = 0.0;
  std::int64_t count_ = 0;
};

class MeanFall {
 public:
  std::optional<Celsius> forecast(Celsius air) const {
    if (falls_.size() < kFallNights) return std::nullopt;
    double sum = 0.0;
    for (const Kelvins fall : falls_)
      sum += fall.degrees;
    return air - Kelvins{sum / static_cast<double>(kFallNights)};
  }

  void learn(Kelvins fall) {
    falls_.push_back(fall);
    if (falls_.size() > kFallNights) falls_.pop_front();
  }

 private:
  std::deque<Kelvins> falls_;  // the newest last
};

// The yardsticks of one moment, night after night.
class Yardsticks {
 public:
  explicit Yardsticks(Celsius threshold) : threshold_(threshold) {}

  Forecasts forecasts(const Outlook& tonight) const {
    const std::array lows{tonight.last_low, mean_fall_.forecast(tonight.air),
                          by_fao(tonight)};
    Forecasts all;
    for (std::size_t i = 0; i < all.size(); ++i) {
      const std::optional<Celsius>& low = lows.at(i);
      if (low) all.at(i) = {*low, errors_.at(i).odds_below(threshold_, *low)};
    }
    return all;
  }

  std::optional<Odds> share_so_far() const {
    if (nights_ == 0) return std::nullopt;
    return Odds{static_cast<double>(came_) / static_cast<double>(nights_)};
  }

  void learn(const JudgedNight& night) {
    const Forecasts said = forecasts(night.outlook);
    for (std::size_t i = 0; i < said.size(); ++i) {
      if (said.at(i)) errors_.at(i).add(said.at(i)->low - night.came);
    }
    mean_fall_.learn(night.outlook.air - night.came);
    if (const auto dew_point = night.outlook.dew_point) {
      fao_.learn({night.outlook.air, *dew_point, night.came});
    }
    ++nights_;
    came_ += night.came <= threshold_ ? 1 : 0;
  }

 private:
  std::optional<Celsius> by_fao(const Outlook& tonight) const {
    const auto coefficients = fao_.fit_two_step();
    if (!coefficients || !tonight.dew_point) return std::nullopt;
    return predict(*coefficients, tonight.air, *tonight.dew_point);
  }

  Celsius threshold_;
  MeanFall mean_fall_;
  FaoNights fao_;
  std::array<PastErrors, kYardsticks.size()> errors_;
  std::int64_t nights_ = 0;
  std::int64_t came_ = 0;
};

// What one of the compared says of one night.
struct Said {
  std::optional<Celsius> low;
  std::optional<Odds> odds;
};

constexpr std::array<Compared, kYardsticks.size() + 2> kCompared{
    Compared{.name = "this outlook", .key = "outlook"},
    Compared{.name = "as last night", .key = "as_last_night"},
    Compared{.name = "mean fall of 14 nights", .key = "mean_fall"},
    Compared{.name = "FAO regression", .key = "fao_regression"},
    Compared{.name = "share of nights so far", .key = "share_so_far"}};

using AllSaid = std::array<Said, kCompared.size()>;

AllSaid all_said(const Yardsticks& yardsticks, const Outlook& tonight,
                 Celsius threshold) {
  AllSaid all;
  all.front() = {tonight.low, odds_below(tonight, threshold)};
  const Forecasts forecasts = yardsticks.forecasts(tonight);
  for (std::size_t i = 0; i < forecasts.size(); ++i) {
    if (const auto& said = forecasts.at(i)) all.at(i + 1) = {said->low, said->odds};
  }
  all.back() = {std::nullopt, yardsticks.share_so_far()};
  return all;
}

// Which of them gave odds on half of the nights or more.
std::array<bool, kCompared.size()> talkative(std::span<const AllSaid> nights) {
  std::array<bool, kCompared.size()> often{};
  for (std::size_t i = 0; i < often.size(); ++i) {
    std::size_t spoke = 0;
    for (const AllSaid& said : nights)
      if (said.at(i).odds) ++spoke;
    often.at(i) = spoke > 0 && 2 * spoke >= nights.size();
  }
  return often;
}

class Errors {
 public:
  void add(const Said& said, Celsius came, Celsius threshold) {
    ++nights_;
    const double miss = said.odds->value - (came <= threshold ? 1.0 : 0.0);
    squares_ += miss * miss;
    if (!said.low) return;
    ++lows_;
    errors_ += std::abs((*said.low - came).degrees);
    signed_ += (*said.low - came).degrees;
  }

  void put_into(Compared& entry) const {
    if (nights_ > 0) entry.brier = squares_ / static_cast<double>(nights_);
    if (lows_ == 0) return;
    entry.mean_absolute_error = Kelvins{errors_ / static_cast<double>(lows_)};
    entry.bias = Kelvins{signed_ / static_cast<double>(lows_)};
  }

 private:
  std::int64_t nights_ = 0;
  std::int64_t lows_ = 0;
  double squares_ = 0.0;
  double errors_ = 0.0;
  double signed_ = 0.0;
};

}  // namespace

Comparison compare(std::span<const JudgedNight> nights, std::size_t skipped,
                   Celsius threshold) {
  Yardsticks yardsticks(threshold);
  std::vector<AllSaid> said;  // of the nights that count
  for (std::size_t i = 0; i < nights.size(); ++i) {
    if (i >= skipped) {
      said.push_back(all_said(yardsticks, nights[i].outlook, threshold));
    }
    yardsticks.learn(nights[i]);
  }
  const auto takes_part = talkative(said);
  std::array<Errors, kCompared.size()> errors;
  Comparison comparison{.entries = {kCompared.begin(), kCompared.end()}};
  for (std::size_t night = 0; night < said.size(); ++night) {
    bool all_speak = true;
    for (std::size_t i = 0; i < errors.size(); ++i) {
      if (takes_part.at(i) && !said[night].at(i).odds) all_speak = false;
    }
    if (!all_speak) continue;
    ++comparison.nights;
    for (std::size_t i = 0; i < errors.size(); ++i) {
      if (!takes_part.at(i)) continue;
      errors.at(i).add(said[night].at(i), nights[skipped + night].came, threshold);
    }
  }
  for (std::size_t i = 0; i < errors.size(); ++i)
    errors.at(i).put_into(comparison.entries[i]);
  return comparison;
}

std::array<std::optional<SimpleForecast>, kYardsticks.size()> simple_forecasts(
    std::span<const JudgedNight> past, const Outlook& tonight, Celsius threshold) {
  Yardsticks yardsticks(threshold);
  for (const JudgedNight& night : past)
    yardsticks.learn(night);
  return yardsticks.forecasts(tonight);
}

}  // namespace rimeward
