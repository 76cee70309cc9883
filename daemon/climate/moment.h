// The four moments of a night at which its low is forecast. Thread-safe: constants.

#pragma once

#include <array>
#include <cstddef>
#include <string_view>

namespace rimeward {

// The numbers are stored: never reuse one.
enum class Moment {
  kAfternoon = 0,  // three hours after solar noon
  kDusk = 1,       // an hour before sunset; in winter before the afternoon's
  kDark = 2,       // two hours after sunset
  kLate = 3,       // ten hours after solar noon
};

inline constexpr std::array kMoments{Moment::kAfternoon, Moment::kDusk, Moment::kDark,
                                     Moment::kLate};

constexpr std::size_t index_of(Moment moment) {
  return static_cast<std::size_t>(moment);
}

inline constexpr std::array<std::string_view, kMoments.size()> kMomentNames{
    "afternoon", "dusk", "dark", "late"};

// As in every file and output.
constexpr std::string_view name_of(Moment moment) {
  return kMomentNames.at(index_of(moment));
}

constexpr bool is_after_dark(Moment moment) {
  return moment == Moment::kDark || moment == Moment::kLate;
}

// What a forecast is made from, in this order: one, T0, TdA, floor, lminrel, ewmin, sqH,
// after dark also cool and dd, and last rise and level, of the pressure
// (daemon/climate/features.h says what each is).
inline constexpr std::size_t kPressureFeatures = 2;
inline constexpr std::size_t kMostFeatures = 9 + kPressureFeatures;

// Those before the pressure's, which all that is published of the method has.
constexpr std::size_t plain_feature_count(Moment moment) {
  return is_after_dark(moment) ? 9 : 7;
}

constexpr std::size_t feature_count(Moment moment) {
  return plain_feature_count(moment) + kPressureFeatures;
}

// A moment's features, or one number for each; zero beyond its feature_count().
using FeatureArray = std::array<double, kMostFeatures>;

}  // namespace rimeward
