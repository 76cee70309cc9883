#include "daemon/climate/outlook.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <utility>

namespace rimeward {
namespace {

constexpr double kRangeErrors = 1.2816;  // standard errors to a tenth of a normal curve
constexpr std::chrono::minutes kBeforeSunrise{30};
constexpr double kLongestGapForLastLow = 4.0;  // hours
constexpr double kNewestLowsShare = 0.20;      // in the mean of the lows
constexpr int kLongestPolarDays = 366;

double normal_share_below(double z) {
  return 0.5 * std::erfc(-z / std::numbers::sqrt2);
}

Celsius lower_of(Celsius a, std::optional<Celsius> b) {
  return b ? std::min(a, *b) : a;
}

Kelvins times(double factor, Kelvins kelvins) {
  return {factor * kelvins.degrees};
}

Celsius range_top(const Outlook& outlook) {
  return outlook.low + range_side(outlook.spread_above);
}

}  // namespace

Odds odds_below(const Outlook& outlook, Celsius threshold,
                std::optional<Celsius> lowest_since_sunset) {
  for (const auto& read : {outlook.running_low, lowest_since_sunset}) {
    if (read && *read <= threshold) return {1.0};
  }
  const Kelvins away = threshold - low_so_far(outlook, lowest_since_sunset);
  const Kelvins spread = away.degrees < 0.0 ? outlook.spread_below : outlook.spread_above;
  return {normal_share_below(away.degrees / spread.degrees)};
}

Kelvins range_side(Kelvins spread) {
  return times(kRangeErrors, spread);
}

Celsius low_so_far(const Outlook& outlook, std::optional<Celsius> lowest_since_sunset) {
  return lower_of(outlook.low, lowest_since_sunset);
}

Outlook held_to(Outlook outlook, std::optional<Celsius> lowest_since_sunset) {
  if (!lowest_since_sunset) return outlook;
  outlook.running_low = lower_of(*lowest_since_sunset, outlook.running_low);
  outlook.low = lower_of(outlook.low, outlook.running_low);
  outlook.low10 = std::min(outlook.low10, outlook.low);
  outlook.low90 = lower_of(outlook.low90, outlook.running_low);
  return outlook;
}

NightOutlook::NightOutlook(Position position, const Prior& prior)
    : position_(position),
      learners_{Learner{Moment::kAfternoon, prior.moments[0]},
                Learner{Moment::kDusk, prior.moments[1]},
                Learner{Moment::kDark, prior.moments[2]},
                Learner{Moment::kLate, prior.moments[3]}} {}

void NightOutlook::start(Instant first_reading) {
  if (first_reading_) return;
  first_reading_ = first_reading;
  plan_ = plan_from(solar_day(first_reading, position_), position_);
}

std::optional<SunTime> NightOutlook::next_due() const {
  if (!plan_) return std::nullopt;
  return plan_->events.at(next_event_).at;
}

std::optional<Moment> NightOutlook::next_moment() const {
  if (!plan_) return std::nullopt;
  return plan_->events.at(next_event_).moment;
}

std::optional<OutlookEvent> NightOutlook::run_next(const Recents& recents,
                                                   Lesson lesson) {
  if (!plan_) return std::nullopt;
  const Plan plan = *plan_;
  const auto moment = plan.events.at(next_event_).moment;
  std::optional<OutlookEvent> happened;
  if (moment) {
    happened = issue(*moment, plan.night, recents);
  } else {
    happened = end_night(plan.night, recents, lesson);
  }
  if (++next_event_ == plan.events.size()) {
    plan_ = plan_from(plan.night.solar_day + 1, position_);
    next_event_ = 0;
  }
  return happened;
}

std::optional<NightOutlook::Plan> NightOutlook::plan_from(std::int64_t solar_day,
                                                          Position position) {
  for (int later = 0; later < kLongestPolarDays; ++later) {
    const auto night = night_of(solar_day + later, position);
    if (!night) continue;
    Plan plan{*night, {}};
    for (const Moment moment : kMoments) {
      plan.events.at(index_of(moment)) = {time_of(moment, *night), moment};
    }
    plan.events.back() = {end_of(*night), std::nullopt};
    std::ranges::stable_sort(plan.events, {}, &Event::at);
    return plan;
  }
  return std::nullopt;
}

std::optional<OutlookEvent> NightOutlook::issue(Moment moment, const Night& night,
                                                const Recents& recents) {
  const SunTime at = time_of(moment, night);
  if (!first_reading_ || at < *first_reading_ || at >= night.sunrise - kBeforeSunrise)
    return std::nullopt;
  PastLows lows{std::nullopt, usual_low_};
  if (last_low_ && last_low_->solar_day == night.solar_day - 1)
    lows.last = last_low_->low;
  const Learner& learner = learners_.at(index_of(moment));
  auto known = known_at(moment, night, lows, recents, learner.fill());
  if (!known) return std::nullopt;
  const bool lows_known = last_low_ || usual_low_;
  if (!lows_known) known->features = learner.without_lows(known->features);

  Outlook outlook{.solar_day = night.solar_day,
                  .moment = moment,
                  .issued_at = at,
                  .sunset = night.sunset,
                  .sunrise = night.sunrise,
                  .running_low = known->running_low,
                  .air = known->air,
                  .dew_point = known->dew_point,
                  .last_low = lows.last,
                  .leverage = lows_known ? learner.leverage(known->features)
                                         : learner.leverage_without_lows(known->features),
                  .humidity_known = known->dew_point.has_value(),
                  .lows_known = lows_known,
                  .features = known->features};
  const auto spread = learner.spread(outlook.leverage);
  outlook.spread_below = spread.below;
  outlook.spread_above = spread.above;
  outlook.low = lower_of(known->air - learner.fall(known->features), known->running_low);
  outlook.low10 = outlook.low - range_side(spread.below);
  outlook.low90 = lower_of(range_top(outlook), known->running_low);
  issued_.push_back(outlook);
  current_ = outlook;
  return Issued{outlook};
}

OutlookEvent NightOutlook::end_night(const Night& night, const Recents& recents,
                                     Lesson lesson) {
  const NightRecord record = record_of(night, recents.air);
  NightEnded ended{date_of_night(night.solar_day), std::nullopt, std::nullopt, {}};
  if (record.low && record.readings >= kFewestReadings) {
    const Celsius low{record.low->value};
    if (record.longest_gap_hours <= kLongestGapForLastLow) {
      last_low_ = DatedLow{low, night.solar_day};
    }
    if (record.longest_gap_hours <= kLongestGapHours) {
      ended.low = low;
      ended.low_at = record.low->at;
      if (lesson == Lesson::kLearn) learn(low);
      const Celsius usual = usual_low_.value_or(low);
      usual_low_ = usual + times(kNewestLowsShare, low - usual);
    }
  }
  ended.outlooks = std::exchange(issued_, {});
  current_.reset();
  return ended;
}

void NightOutlook::learn(Celsius low) {
  for (const Outlook& outlook : issued_) {
    if (!outlook.lows_known) continue;
    Learner& learner = learners_.at(index_of(outlook.moment));
    learner.learn(outlook.features, outlook.air - low);
    learner.learn_error(
        {.error = low - outlook.low,
         .leverage = outlook.leverage,
         .below_range = low<outlook.low10, .above_range = low> range_top(outlook)});
  }
}

}  // namespace rimeward
