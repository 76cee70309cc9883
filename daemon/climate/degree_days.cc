#include "daemon/climate/degree_days.h"

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <numbers>
#include <numeric>

namespace rimeward {
namespace {

// The part of a day above a threshold.
struct Above {
  double degree_days = 0;
  double share = 0;  // of the day
};

using CurveAbove = Above (*)(const DayRange& day, double threshold);

// A curve that is as long above its middle as below it lies wholly to one side of the
// threshold, or is cut by it: only then its shape tells.
std::optional<Above> not_cut(const DayRange& day, double threshold) {
  if (day.high.degrees <= threshold) return Above{};
  if (day.low.degrees < threshold) return std::nullopt;
  return Above{std::midpoint(day.low.degrees, day.high.degrees) - threshold, 1};
}

Above sine_above(const DayRange& day, double threshold) {
  if (const auto known = not_cut(day, threshold)) return *known;
  const double mean = std::midpoint(day.low.degrees, day.high.degrees);
  const double amplitude = (day.high.degrees - day.low.degrees) / 2;
  const double crossing = std::asin((threshold - mean) / amplitude);
  const double half_span = std::numbers::pi / 2 - crossing;
  return {((mean - threshold) * half_span + amplitude * std::cos(crossing)) /
              std::numbers::pi,
          half_span / std::numbers::pi};
}

Above triangle_above(const DayRange& day, double threshold) {
  if (const auto known = not_cut(day, threshold)) return *known;
  const double share =
      (day.high.degrees - threshold) / (day.high.degrees - day.low.degrees);
  return {share * (day.high.degrees - threshold) / 2, share};
}

DegreeDays of_curve(CurveAbove above, const DayRange& day, const WarmthLimits& limits) {
  const double all = above(day, limits.base.degrees).degree_days;
  if (!limits.upper) return {all};
  const Above beyond = above(day, limits.upper->degrees);
  switch (limits.cut_off) {
    case CutOff::kHorizontal:
      return {all - beyond.degree_days};
    case CutOff::kIntermediate:
      return {std::max(0.0, all - 2 * beyond.degree_days)};
    case CutOff::kVertical: {
      const double range = limits.upper->degrees - limits.base.degrees;
      return {all - beyond.degree_days - range * beyond.share};
    }
  }
  std::abort();
}

// REQUIRES: base < upper.
double held_within(double degrees, const WarmthLimits& limits) {
  const double above = std::max(degrees, limits.base.degrees);
  return limits.upper ? std::min(above, limits.upper->degrees) : above;
}

}  // namespace

Milli degree_hours(Milli mean, const WarmthLimits& limits) {
  const Milli base = to_milli(limits.base.degrees);
  const Milli all = std::max<Milli>(0, mean - base);
  if (!limits.upper) return all;
  const Milli upper = to_milli(limits.upper->degrees);
  if (mean <= upper) return all;
  switch (limits.cut_off) {
    case CutOff::kHorizontal:
      return upper - base;
    case CutOff::kIntermediate:
      return std::max<Milli>(0, (upper - base) - (mean - upper));
    case CutOff::kVertical:
      return 0;
  }
  std::abort();
}

DegreeDays degree_days(std::int64_t degree_hours_sum) {
  constexpr double kThousandthHoursOfADay = 24'000;
  return {static_cast<double>(degree_hours_sum) / kThousandthHoursOfADay};
}

DegreeDays average_method_1(const DayRange& day, const WarmthLimits& limits) {
  const double mean = std::midpoint(day.low.degrees, day.high.degrees);
  return {held_within(mean, limits) - limits.base.degrees};
}

DegreeDays average_method_2(const DayRange& day, const WarmthLimits& limits) {
  return {std::midpoint(held_within(day.low.degrees, limits),
                        held_within(day.high.degrees, limits)) -
          limits.base.degrees};
}

DegreeDays single_sine(const DayRange& day, const WarmthLimits& limits) {
  return of_curve(sine_above, day, limits);
}

DegreeDays single_triangle(const DayRange& day, const WarmthLimits& limits) {
  return of_curve(triangle_above, day, limits);
}

DegreeDays four_case_above(const DayRange& day, Celsius base) {
  const double low = day.low.degrees - base.degrees;
  const double high = day.high.degrees - base.degrees;
  if (high <= 0) return {0};
  if (low >= 0) return {std::midpoint(low, high)};
  return {low + high >= 0 ? high / 2 + low / 4 : high / 4};
}

DegreeDays four_case_below(const DayRange& day, Celsius base) {
  // What is above a base in a day turned upside down is below it.
  return four_case_above({{-day.high.degrees}, {-day.low.degrees}}, {-base.degrees});
}

DegreeDays reduced_ceiling(Celsius high, Celsius base, Celsius ceiling) {
  const double counted = std::min(high.degrees, 2 * ceiling.degrees - high.degrees);
  return {std::max(0.0, counted - base.degrees)};
}

}  // namespace rimeward
