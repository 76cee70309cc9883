#include "daemon/climate/night_course.h"

#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdint>
#include <ratio>

#include "daemon/climate/features.h"

namespace rimeward {
namespace {

using Hours = std::chrono::duration<double, std::ratio<3600>>;

constexpr double kFlattening = 1.75;      // how soon the night's fall flattens
constexpr double kDayFallPerHour = 0.35;  // of the night's fall, before sunset
constexpr double kAboutSunset = 0.3;      // of a night, on either side
constexpr Hours kLowIsOver{1.0};          // after sunrise
constexpr double kMorningRise = 1.3;      // kelvins an hour after the low, at the median
constexpr Kelvins kLeastSpread{0.05};

double share_of_night(const Outlook& night, SunTime at) {
  return (at - night.sunset) / (night.sunrise - night.sunset);
}

// How far the air usually is on its way from sunset's temperature to the low.
double way(const Outlook& night, SunTime at) {
  const double gone = share_of_night(night, at);
  if (gone < 0.0) return kDayFallPerHour * Hours{at - night.sunset}.count();
  return 1.0 - std::pow(std::max(1.0 - gone, 0.0), kFlattening);
}

// When it is that far: way() turned round, until sunrise.
SunTime time_of_way(const Outlook& night, double way) {
  if (way < 0.0) return night.sunset + Hours{way / kDayFallPerHour};
  const double left = std::pow(1.0 - way, 1.0 / kFlattening);
  return night.sunset + (1.0 - left) * (night.sunrise - night.sunset);
}

// Of what the air is off its course, as much stays until the low.
double share_that_stays(const Outlook& night, SunTime at) {
  const double from_sunset = share_of_night(night, at);
  return std::clamp((from_sunset + kAboutSunset) / (2.0 * kAboutSunset), 0.0, 1.0);
}

double spread_left(const Outlook& issued, SunTime at) {
  const SunTime over = issued.sunrise + kLowIsOver;
  return std::sqrt(std::max(over - at, SunTime::duration::zero()) /
                   (over - issued.issued_at));
}

Celsius coming_low(const Outlook& issued, const ReadSince& read) {
  const double start = way(issued, issued.issued_at);
  const double gone = (way(issued, read.at) - start) / (1.0 - start);
  const Kelvins fall = issued.air - issued.low;
  const Celsius expected = issued.air - Kelvins{gone * fall.degrees};
  const Kelvins off = read.air - expected;
  return std::min(read.air,
                  issued.low + Kelvins{share_that_stays(issued, read.at) * off.degrees});
}

// The cold side is measured from what is coming, since what was read cannot come again:
// once the low is over by far, hardly anything is left of it.
void bring_up(Outlook& outlook, Celsius coming, double left) {
  const Kelvins below{left * outlook.spread_below.degrees};
  const Kelvins above{left * outlook.spread_above.degrees};
  const Celsius lowest = outlook.running_low.value_or(coming);
  outlook.low = std::min(coming, lowest);
  const Celsius low10 = std::min(coming - range_side(below), outlook.low);
  outlook.spread_below = std::max(
      Kelvins{(outlook.low - low10).degrees / range_side({1.0}).degrees}, kLeastSpread);
  outlook.spread_above = std::max(above, kLeastSpread);
  outlook.low10 = outlook.low - range_side(outlook.spread_below);
  outlook.low90 = coming + range_side(outlook.spread_above);
  if (outlook.running_low) outlook.low90 = std::min(outlook.low90, lowest);
}

}  // namespace

NightCourse course_of(const Outlook& issued, const std::optional<ReadSince>& read) {
  if (!read || read->at <= issued.issued_at) {
    return {.outlook = issued,
            .as_of = issued.issued_at,
            .air = issued.air,
            .low_at = issued.sunrise,
            .coming_low = issued.low,
            .coming_at = issued.sunrise};
  }
  NightCourse course{.outlook = issued,
                     .as_of = read->at,
                     .air = read->air,
                     .low_at = {},
                     .coming_low = coming_low(issued, *read),
                     .coming_at = std::max<SunTime>(read->at, issued.sunrise)};
  auto& running_low = course.outlook.running_low;
  if (read->lowest)
    running_low = std::min(*read->lowest, running_low.value_or(*read->lowest));
  bring_up(course.outlook, course.coming_low, spread_left(issued, read->at));
  const bool over = running_low && *running_low <= course.coming_low;
  course.low_at = over && read->lowest_at ? *read->lowest_at : course.coming_at;
  return course;
}

Celsius air_at(const NightCourse& course, SunTime at) {
  const Outlook& night = course.outlook;
  if (at <= course.as_of) return course.air;
  if (at >= course.coming_at) {
    const SunTime until = std::max(night.sunrise + kAfterSunrise, course.coming_at);
    const Hours since{std::min(at, until) - course.coming_at};
    return course.coming_low + Kelvins{kMorningRise * since.count()};
  }
  const double start = way(night, course.as_of);
  const double gone = (way(night, at) - start) / (1.0 - start);
  return course.air + Kelvins{gone * (course.coming_low - course.air).degrees};
}

std::optional<SunTime> crossing(const NightCourse& course, Celsius threshold) {
  if (course.air <= threshold) return course.as_of;
  if (course.coming_low > threshold || course.as_of >= course.coming_at) {
    return std::nullopt;
  }
  const double gone =
      (course.air - threshold).degrees / (course.air - course.coming_low).degrees;
  const double start = way(course.outlook, course.as_of);
  return time_of_way(course.outlook, start + gone * (1.0 - start));
}

std::vector<CoursePoint> half_hours(const NightCourse& course) {
  using HalfHours = std::chrono::duration<std::int64_t, std::ratio<1800>>;
  const SunTime end = course.outlook.sunrise + kAfterSunrise;
  std::vector<CoursePoint> points;
  for (Instant at = std::chrono::ceil<HalfHours>(course.as_of); at <= end;
       at += HalfHours{1}) {
    points.push_back({at, air_at(course, at)});
  }
  return points;
}

}  // namespace rimeward
