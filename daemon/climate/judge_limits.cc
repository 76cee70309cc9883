#include "daemon/climate/judge_limits.h"

#include <algorithm>
#include <limits>

namespace rimeward {
namespace {

using namespace std::chrono_literals;

constexpr Milli kNever = std::numeric_limits<Milli>::max();

// Truth is never taken for a spike in the end: the limits leave room for the largest that
// was found in 320,000 readings of ten weather records (hourly in the open at eight
// places for one to four years; every quarter of an hour under plastic for one; a cheap
// sensor in the open for half a year):
//
//   air          one step     11.6 in 1 h (open), 14.8 in 15 min (plastic)
//                standing out  6.6 of hours (open), 10.6 of 15 min (plastic)
//   humidity     one step     23 in 15 min, 28 in 40 min, 74 in 1 h
//                standing out 46 of hours, 17 of 15 min
//   pressure     one step      7.2 in 1 h, 14.4 in 3 h
//                standing out  7.3 between 1 h and 2 h
//
// The nine steps that go further than a limit (one of 14.8 degrees, eight of more than
// 60 % humidity) wait for the next reading, which confirms them.
//
// An unscreened sensor that a cloud's shadow falls on goes 3 to 4 degrees in a minute.
// For soil there is no record: it is set well under the air's limits, and over what cold
// water does to a pot.
constexpr JudgeLimits kAir{
    .step = {{{{1min, 5'000, 6}, {15min, 12'000, 6}, {1h, 15'000, 4}, {3h, 20'000, 4}}}},
    .excursion =
        {{{{1min, 5'000, 6}, {15min, 10'000, 6}, {1h, 8'000, 4}, {3h, 16'000, 4}}}},
    .moved_elsewhere = 2'000,
    .saturated = kNever};
constexpr JudgeLimits kHumidity{
    .step = {{{{1min, 20'000, 6}, {15min, 40'000, 6}, {1h, 60'000, 4}, {3h, 70'000, 4}}}},
    .excursion =
        {{{{1min, 20'000, 6}, {15min, 35'000, 6}, {1h, 50'000, 4}, {3h, 60'000, 4}}}},
    .moved_elsewhere = 20'000,
    .saturated = 97'000};
constexpr JudgeLimits kSoil{
    .step = {{{{1min, 3'000, 6}, {15min, 6'000, 6}, {1h, 8'000, 4}, {3h, 12'000, 4}}}},
    .excursion =
        {{{{1min, 3'000, 6}, {15min, 5'000, 6}, {1h, 6'000, 4}, {3h, 8'000, 4}}}},
    .moved_elsewhere = std::nullopt,
    .saturated = kNever};
constexpr JudgeLimits kPressure{
    .step = {{{{1min, 3'000, 6}, {15min, 6'000, 6}, {1h, 10'000, 4}, {3h, 20'000, 4}}}},
    .excursion =
        {{{{1min, 3'000, 6}, {15min, 5'000, 6}, {1h, 8'000, 4}, {3h, 12'000, 4}}}},
    .moved_elsewhere = std::nullopt,
    .saturated = kNever};

}  // namespace

std::optional<Milli> TimedLimit::at(std::chrono::seconds span, Milli noise) const {
  const auto limit = [noise](Milli change, Milli steps) {
    return std::max(change, steps * noise);
  };
  if (span <= points.front().span)
    return limit(points.front().change, points.front().steps);
  for (std::size_t i = 1; i < points.size(); ++i) {
    const Point& from = points[i - 1];
    const Point& to = points[i];
    if (span > to.span) continue;
    const Milli change = from.change + (to.change - from.change) * (span - from.span) /
                                           (to.span - from.span);
    return limit(change, to.steps);
  }
  return std::nullopt;
}

const JudgeLimits* judge_limits(Channel channel) {
  switch (channel) {
    case Channel::kAirTemperature:
      return &kAir;
    case Channel::kHumidity:
      return &kHumidity;
    case Channel::kSoilTemperature:
      return &kSoil;
    case Channel::kPressure:
      return &kPressure;
    case Channel::kSoilMoisture:
    case Channel::kLight:
    case Channel::kBatteryVoltage:
    case Channel::kBatteryPercent:
    case Channel::kSignal:
    case Channel::kForecastLow:
      return nullptr;
  }
  return nullptr;
}

}  // namespace rimeward
