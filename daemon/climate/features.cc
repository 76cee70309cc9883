#include "daemon/climate/features.h"

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <iterator>

namespace rimeward {
namespace {

using std::chrono::duration;
using Hours = duration<double, std::ratio<3600>>;

constexpr Hours kFreshDewPoint{3.1};
constexpr std::size_t kFewestDewPoints = 8;  // for their mean of 24 hours
constexpr double kWidestGapHours = 2.6;      // to interpolate over
constexpr Hours kFreshAtSunset{1.1};
constexpr double kDriestSpread =
    25.0;                            // kelvins above the dew point; more counts as this
constexpr double kFloorReach = 0.8;  // tens of kelvins above the dew point
constexpr Hours kFreshPressure{1.5};
constexpr Hours kRiseTime{3.0};
constexpr Hours kLevelTime{48.0};
constexpr std::size_t kFewestPressures = 8;  // for their mean of 48 hours
constexpr double kMostRise = 8.0;            // hPa; more counts as this
constexpr double kMostLevel = 30.0;
constexpr double kRiseUnit = 2.0;
constexpr double kLevelUnit = 8.0;

// Gaps between readings are compared in hours as doubles, which is how the published
// check values were made: a gap of exactly the limit may fall on either side.
double hours_of(Instant instant) {
  return static_cast<double>(instant.time_since_epoch().count()) / 3600.0;
}

double hours_of(SunTime time) {
  return time.time_since_epoch().count() / 3600.0;
}

// The air at sunset, by what was read until `known_until`.
std::optional<double> air_at_sunset(const Series& air, SunTime sunset,
                                    SunTime known_until) {
  const auto before = air.until(sunset + kSlack);
  if (before.empty()) return std::nullopt;
  const TimedValue& earlier = before.back();
  if (sunset - earlier.at < Hours{1e-3}) return earlier.value;
  const auto known = air.until(known_until + kSlack);
  if (known.size() > before.size()) {
    const TimedValue& later = known[before.size()];
    const double gap = hours_of(later.at) - hours_of(earlier.at);
    if (gap <= kWidestGapHours) {
      const double share = (hours_of(sunset) - hours_of(earlier.at)) / gap;
      return earlier.value * (1.0 - share) + later.value * share;
    }
  }
  if (sunset - earlier.at <= kFreshAtSunset) return earlier.value;
  return std::nullopt;
}

std::optional<double> clipped(double air, std::optional<Celsius> below, double least,
                              double most) {
  if (!below) return std::nullopt;
  return std::clamp(air - below->degrees, least, most);
}

void put_pressure(FeatureArray& features, Moment moment, SunTime at,
                  const Series& pressure) {
  const auto fresh_at = [&pressure](SunTime time) {
    return pressure.newest_at_or_before(time + kSlack, kFreshPressure + kSlack);
  };
  const auto now = fresh_at(at);
  if (!now) return;
  const std::size_t rise = plain_feature_count(moment);
  if (const auto before = fresh_at(at - kRiseTime)) {
    const double change =
        (now->value - before->value) * (kRiseTime / Hours{now->at - before->at});
    features.at(rise) = std::clamp(change, -kMostRise, kMostRise) / kRiseUnit;
  }
  const auto recent = pressure.between(at - kLevelTime - kSlack, at + kSlack);
  if (recent.size() < kFewestPressures) return;
  double sum = 0.0;
  for (const TimedValue& reading : recent)
    sum += reading.value;
  const double level = now->value - sum / static_cast<double>(recent.size());
  features.at(rise + 1) = std::clamp(level, -kMostLevel, kMostLevel) / kLevelUnit;
}

}  // namespace

std::optional<Night> night_of(std::int64_t solar_day, Position position) {
  const auto today = sun_events(solar_day, position);
  const auto tomorrow = sun_events(solar_day + 1, position);
  if (!today || !tomorrow) return std::nullopt;
  return Night{solar_day, today->noon, today->sunset, tomorrow->sunrise};
}

std::optional<Night> night_at(Instant at, Position position) {
  const std::int64_t day = solar_day(at, position);
  for (const std::int64_t evening : {day - 1, day}) {
    const auto night = night_of(evening, position);
    if (night && at < whole_second(end_of(*night))) return night;
  }
  return std::nullopt;
}

SunTime time_of(Moment moment, const Night& night) {
  switch (moment) {
    case Moment::kAfternoon:
      return night.noon + std::chrono::hours{3};
    case Moment::kDusk:
      return night.sunset - std::chrono::hours{1};
    case Moment::kDark:
      return night.sunset + std::chrono::hours{2};
    case Moment::kLate:
      return night.noon + std::chrono::hours{10};
  }
  std::abort();
}

std::optional<Known> known_at(Moment moment, const Night& night, const PastLows& lows,
                              const Recents& recents, const FeatureArray& fill) {
  const SunTime at = time_of(moment, night);
  const auto newest = recents.air.newest_at_or_before(at + kSlack, kFreshAir + kSlack);
  if (!newest) return std::nullopt;
  const double air = newest->value;
  const auto dew = newest_dew_point(recents, at + kSlack, kFreshDewPoint + kSlack);
  const auto mean = mean_dew_point(recents, at - std::chrono::hours{24} - kSlack,
                                   at + kSlack, kFewestDewPoints);
  const double hours = Hours{night.sunrise - at}.count();

  FeatureArray x = fill;
  const auto put = [&x](std::size_t i, std::optional<double> kelvins, double unit) {
    if (kelvins) x.at(i) = *kelvins / unit;
  };
  x[0] = 1.0;
  x[1] = air / 10.0;
  if (dew && mean) put(2, clipped(dew->degrees, mean, -15.0, 15.0), 10.0);
  const auto spread =
      dew ? std::optional{std::min(air - dew->degrees, kDriestSpread)} : std::nullopt;
  if (spread) x[3] = std::max(0.0, kFloorReach - *spread / 10.0);
  put(4, clipped(air, lows.last, -10.0, 30.0), 10.0);
  put(5, clipped(air, lows.usual, -15.0, 30.0), 10.0);
  x[6] = std::sqrt(hours) - 3.3;
  if (is_after_dark(moment)) {
    const auto sunset_air = air_at_sunset(recents.air, night.sunset, at);
    if (sunset_air) x[7] = std::clamp(*sunset_air - air, -5.0, 12.0) / 5.0;
    put(8, spread, 10.0);
  }
  put_pressure(x, moment, at, recents.pressure);

  std::optional<Celsius> running_low;
  const auto since_sunset = recents.air.between(night.sunset - kSlack, at + kSlack);
  if (!since_sunset.empty()) {
    running_low =
        Celsius{std::ranges::min_element(since_sunset, {}, &TimedValue::value)->value};
  }
  return Known{x, {air}, dew, running_low};
}

NightRecord record_of(const Night& night, const Series& air) {
  const auto read = air.between(night.sunset - kSlack, end_of(night) + kSlack);
  double before = hours_of(night.sunset);
  double longest = 0.0;
  for (const TimedValue& reading : read) {
    longest = std::max(longest, hours_of(reading.at) - before);
    before = hours_of(reading.at);
  }
  longest = std::max(longest, hours_of(end_of(night)) - before);
  NightRecord record{read.size(), longest, std::nullopt};
  const auto low = std::ranges::min_element(read, {}, &TimedValue::value);
  if (low != read.end()) record.low = *low;
  return record;
}

}  // namespace rimeward
