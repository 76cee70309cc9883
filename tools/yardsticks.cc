#include "tools/yardsticks.h"

#include <cmath>
#include <vector>

#include "daemon/climate/fao_regression.h"

namespace rimeward {
namespace {

constexpr std::size_t kFallNights = 14;

std::optional<Celsius> same_as_last_night(std::span<const JudgedNight>,
                                          const Outlook& tonight) {
  return tonight.last_low;
}

std::optional<Celsius> mean_fall(std::span<const JudgedNight> past,
                                 const Outlook& tonight) {
  if (past.size() < kFallNights) return std::nullopt;
  double sum = 0;
  for (const JudgedNight& night : past.last(kFallNights)) {
    sum += (night.outlook.air - night.came).degrees;
  }
  return tonight.air - Kelvins{sum / static_cast<double>(kFallNights)};
}

std::optional<Celsius> fao_regression(std::span<const JudgedNight> past,
                                      const Outlook& tonight) {
  if (!tonight.dew_point) return std::nullopt;
  std::vector<FaoNight> nights;
  nights.reserve(past.size());
  for (const JudgedNight& night : past) {
    if (!night.outlook.dew_point) continue;
    nights.push_back({night.outlook.air, *night.outlook.dew_point, night.came});
  }
  const auto coefficients = fit_two_step(nights);
  if (!coefficients) return std::nullopt;
  return predict(*coefficients, tonight.air, *tonight.dew_point);
}

constexpr std::array kYardsticks{
    Yardstick{"as last night", &same_as_last_night},
    Yardstick{"mean fall 14 nights", &mean_fall},
    Yardstick{"FAO regression", &fao_regression},
};

}  // namespace

std::span<const Yardstick> yardsticks() {
  return kYardsticks;
}

std::optional<Kelvins> mean_absolute_error(const Yardstick& yardstick,
                                           std::span<const JudgedNight> nights,
                                           std::size_t skipped) {
  double sum = 0;
  std::size_t count = 0;
  for (std::size_t i = skipped; i < nights.size(); ++i) {
    const auto forecast = yardstick.forecast(nights.first(i), nights[i].outlook);
    if (!forecast) continue;
    sum += std::abs((*forecast - nights[i].came).degrees);
    ++count;
  }
  if (count == 0) return std::nullopt;
  return Kelvins{sum / static_cast<double>(count)};
}

}  // namespace rimeward
