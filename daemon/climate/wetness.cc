#include "daemon/climate/wetness.h"

#include <algorithm>

#include "daemon/climate/humidity.h"

namespace rimeward {
namespace {

using std::chrono::hours;

constexpr Kelvins kLeafBelowAir{1.0};
constexpr double kGlassFromOutside = 0.5;

enum class Damp { kNot, kAir, kCondensing };

// Whether water condenses in an hour of the night on what is coldest there.
bool is_condensing(const DampPlace& place, Instant hour, Celsius air,
                   RelativeHumidity humidity) {
  if (!place.night || !is_dark(hour, *place.night)) return false;
  Celsius coldest = leaf_at_night(air);
  if (place.outside != nullptr) {
    if (const auto outside = place.outside->means(hour).air) {
      coldest = std::min(coldest, glass_at_night(air, Celsius{from_milli(*outside)}));
    }
  }
  return condenses(vapour_pressure(air, humidity), coldest);
}

Damp dampness(const DampPlace& place, const DampLimits& limits, Instant hour) {
  const HourMeans means = place.inside.means(hour);
  if (!means.air || !means.humidity) return Damp::kNot;
  const Celsius air{from_milli(*means.air)};
  if (air < limits.warmer_than || air > limits.cooler_than) return Damp::kNot;
  const RelativeHumidity humidity{from_milli(*means.humidity)};
  if (is_condensing(place, hour, air, humidity)) return Damp::kCondensing;
  return humidity >= limits.humidity ? Damp::kAir : Damp::kNot;
}

bool is_favourable(const BlightDay& day, const BlightLimits& limits) {
  return day.low >= limits.low && hours{day.damp_hours} >= limits.for_hours;
}

}  // namespace

Celsius leaf_at_night(Celsius air) {
  return air - kLeafBelowAir;
}

Celsius glass_at_night(Celsius inside, Celsius outside) {
  return outside + Kelvins{(inside - outside).degrees * kGlassFromOutside};
}

bool condenses(Kilopascals vapour, Celsius surface) {
  return vapour >= saturation_pressure(surface);
}

bool is_dark(Instant hour, const DarkHours& night) {
  using std::chrono::days;
  const auto since_sunset = hour + std::chrono::minutes{30} - night.sunset;
  const auto since_last_sunset = since_sunset - std::chrono::floor<days>(since_sunset);
  return since_last_sunset < night.sunrise - night.sunset;
}

DampRun damp_run(const DampPlace& place, const DampLimits& limits, Instant last) {
  DampRun run{.ends = last + hours{1}};
  for (Instant hour = last; run.hours < kLongestDampRun; hour -= hours{1}) {
    const Damp damp = dampness(place, limits, hour);
    if (damp == Damp::kNot) break;
    ++run.hours;
    if (damp == Damp::kCondensing) ++run.condensing;
  }
  return run;
}

std::optional<BlightDay> blight_day(const HourBook& book, Instant begins, Instant ends,
                                    RelativeHumidity damp) {
  std::optional<BlightDay> day;
  book.each(begins, ends, [&](const HourMeans& means) {
    if (!means.air) {
      day.reset();
      return false;
    }
    const Celsius air{from_milli(*means.air)};
    if (!day) day = BlightDay{.low = air};
    day->low = std::min(day->low, air);
    if (means.humidity && RelativeHumidity{from_milli(*means.humidity)} >= damp) {
      ++day->damp_hours;
    }
    return true;
  });
  return day;
}

bool is_blight_period(const std::optional<BlightDay>& day_before,
                      const std::optional<BlightDay>& day, const BlightLimits& limits) {
  return day_before && day && is_favourable(*day_before, limits) &&
         is_favourable(*day, limits);
}

}  // namespace rimeward
