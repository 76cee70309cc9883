// Simple forecasts of the night's low, and of the odds that it comes to a threshold, that
// an outlook must beat to earn its keep. Made from the same readings at the same moment,
// with no more hindsight. Pure.

#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <string_view>
#include <vector>

#include "daemon/climate/outlook.h"
#include "sensors/units.h"

namespace rimeward {

// One moment's outlook of one night, and the low that came.
struct JudgedNight {
  Outlook outlook;
  Celsius came;
};

// The low of last night; the air now less the mean fall of the last 14 nights; and the
// FAO's regression on air temperature and dew point (daemon/climate/fao_regression.h), in
// the book's two steps, fitted to all nights so far.
enum class Yardstick { kLastNight, kMeanFall, kFaoRegression };
inline constexpr std::array kYardsticks{Yardstick::kLastNight, Yardstick::kMeanFall,
                                        Yardstick::kFaoRegression};

struct SimpleForecast {
  Celsius low;
  // Of a normal curve about `low`, as wide as this yardstick's errors so far. Nothing
  // before it had 5 of them.
  std::optional<Odds> odds;
};

// What is compared: the outlook, the yardsticks, and the odds of a place's own past: the
// share of its nights so far that came to the threshold.
struct Compared {
  std::string_view name;  // as the terminal says it
  std::string_view key;   // in JSON
  // Nothing where it has no such forecast, or spoke on fewer than half of the nights.
  std::optional<Kelvins> mean_absolute_error{};
  std::optional<Kelvins> bias{};  // mean of forecast less come
  std::optional<double> brier{};
};

struct Comparison {
  std::int64_t nights = 0;        // the same for all of them
  std::vector<Compared> entries;  // the outlook, kYardsticks in order, the past's share
};

// Of the nights after the first `skipped`, which only teach, those for which each of them
// has a low and odds to give. One that has not on half of them, as the FAO regression
// without humidity, is left out, and does not cost the others their nights. `nights` are
// of one moment, oldest first. The time it takes is linear in them.
Comparison compare(std::span<const JudgedNight> nights, std::size_t skipped,
                   Celsius threshold);

// What each of kYardsticks says of `tonight`, which follows the nights of `past`.
std::array<std::optional<SimpleForecast>, kYardsticks.size()> simple_forecasts(
    std::span<const JudgedNight> past, const Outlook& tonight, Celsius threshold);

}  // namespace rimeward
