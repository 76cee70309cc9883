#include "tests/support/covered_place.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <stdexcept>
#include <utility>

#include "daemon/climate/dew_point.h"
#include "daemon/climate/humidity.h"
#include "daemon/climate/radiation.h"
#include "daemon/climate/sun.h"

namespace rimeward::testing {
namespace {

using namespace std::chrono_literals;

constexpr auto kStep = 10min;
constexpr double kStepSeconds = 600.0;

constexpr double kStefanBoltzmann = 5.670e-8;  // W/(m2 K4)
constexpr double kZeroCelsius = 273.15;

// Of moist loam, as in tables of soil physics.
constexpr double kConductivity = 1.0;                           // W/(m K)
constexpr double kHeatCapacity = 2.0e6;                         // J/(m3 K)
constexpr std::array kThickness{0.04, 0.08, 0.16, 0.32, 0.64};  // m

// From the middle of the first slab through a dry crust and low plants, which are the
// surface: 2 mm of crust at 0.1 W/(m K), and 2 cm of loam.
constexpr double kSurfaceToSoil = 1.0 / (0.002 / 0.1 + 0.02 / kConductivity);  // W/(m2 K)

// What the plants and the air among them hold, as a kilogram of water on a square metre
// and a half does.
constexpr double kHeldByAir = 6.0e3;  // J/(m2 K)

// Of the sun on the bed, the share that warms it; the rest is reflected or spent on
// evaporation.
constexpr double kWarmingShare = 0.4;

// Of one sheet of light fleece.
constexpr double kSunThrough = 0.87;
constexpr double kAbsorbsDry = 0.70;  // of longwave
constexpr double kAbsorbsWet = 0.95;

// Exchange of heat in W/(m2 K): in the still air of a clear night, which lies in layers,
// and what the wind adds under full cloud.
constexpr double kSurfaceToAir = 4.0;
constexpr double kSurfaceToAirWind = 6.0;
constexpr double kSurfaceToAirBelowFleece = 4.0;
constexpr double kAirToOutdoors = 1.0;
constexpr double kAirToOutdoorsWind = 12.0;
constexpr double kFleeceToOutdoors = 7.0;
constexpr double kFleeceToOutdoorsWind = 10.0;
constexpr double kAirToFleece = 2.5;
constexpr double kFleeceToFleece = 5.0;
constexpr double kLeak = 0.5;  // of one sheet; of two: half of it

// Dew gives off about as much heat as the air does, for each kelvin below the dew point
// (the ratio is 0.7 at 0 degrees C and 1.3 at 10).
constexpr double kDewToAir = 1.0;

double radiated(double celsius) {
  const double kelvin = celsius + kZeroCelsius;
  return kStefanBoltzmann * kelvin * kelvin * kelvin * kelvin;
}

double radiated_slope(double celsius) {
  const double kelvin = celsius + kZeroCelsius;
  return 4.0 * kStefanBoltzmann * kelvin * kelvin * kelvin;
}

// What a node gains, in W/m2, and how that falls with its own temperature.
struct Balance {
  double gain = 0.0;
  double slope = 0.0;

  void exchange(double conductance, double other, double own) {
    gain += conductance * (other - own);
    slope += conductance;
  }
  void radiate(double absorbed, double emissivity, double own) {
    gain += absorbed - emissivity * radiated(own);
    slope += emissivity * radiated_slope(own);
  }
  // Newton's step; how far it went.
  double settle(double& own) const {
    const double change = gain / slope;
    own += change;
    return std::abs(change);
  }
};

}  // namespace

OutdoorWeather::OutdoorWeather(Position position, std::vector<OutdoorHour> hours)
    : position_(position), hours_(std::move(hours)) {
  struct Range {
    double low;
    double high;
  };
  std::map<std::int64_t, Range> ranges;  // from noon to noon
  for (const OutdoorHour& hour : hours_) {
    const double air = hour.air.degrees;
    airs_.push_back(air);
    dew_points_.push_back(dew_point(hour.air, hour.humidity).degrees);
    Range& range = ranges.try_emplace(solar_day(hour.at + 12h, position), Range{air, air})
                       .first->second;
    range = {std::min(range.low, air), std::max(range.high, air)};
  }
  for (const auto& [day, range] : ranges) {
    const double share = 0.16 / 0.75 * std::sqrt(range.high - range.low);
    clearness_[day] = std::clamp(share, 0.3, 1.0);
    add_sun(day);
  }
}

void OutdoorWeather::add_sun(std::int64_t day) {
  const auto events = sun_events(day, position_);
  if (!events) return;
  const auto date = std::chrono::sys_days{std::chrono::days{day}};
  const auto all_day = clear_sky_radiation(
      extraterrestrial_radiation(day_of_year(date), position_), Metres{0.0});
  const double daylight =
      std::chrono::duration<double>(events->sunset - events->sunrise).count();
  suns_[day] = {whole_second(events->sunrise), whole_second(events->sunset),
                all_day.megajoules * 1e6 * std::numbers::pi / 2.0 / daylight};
}

double OutdoorWeather::between_hours(const std::vector<double>& values,
                                     Instant at) const {
  const auto after = std::ranges::lower_bound(hours_, at, {}, &OutdoorHour::at);
  if (after == hours_.end()) throw std::logic_error("beyond the weather");
  const auto index = static_cast<std::size_t>(after - hours_.begin());
  if (after->at == at) return values.at(index);
  if (index == 0) throw std::logic_error("before the weather");
  const Instant before = hours_[index - 1].at;
  return std::lerp(values.at(index - 1), values.at(index),
                   std::chrono::duration<double>(at - before) /
                       std::chrono::duration<double>(after->at - before));
}

Celsius OutdoorWeather::air(Instant at) const {
  return {between_hours(airs_, at)};
}

// Straight from one midnight's to the next.
double OutdoorWeather::clearness(Instant at) const {
  const std::int64_t day = solar_day(at, position_);
  const auto of = [this](std::int64_t midnight) {
    const auto after = clearness_.lower_bound(midnight);
    return after == clearness_.end() ? clearness_.rbegin()->second : after->second;
  };
  const double hours =
      std::chrono::duration<double, std::ratio<3600>>(at.time_since_epoch()).count() +
      position_.longitude / 15.0;
  const double part = hours / 24.0 - std::floor(hours / 24.0);
  return std::lerp(of(day), of(day + 1), part);
}

double OutdoorWeather::clear_sun(Instant at) const {
  const auto found = suns_.find(solar_day(at, position_));
  if (found == suns_.end()) return 0.0;
  const SunOfDay& day = found->second;
  if (at <= day.sunrise || at >= day.sunset) return 0.0;
  const double part = std::chrono::duration<double>(at - day.sunrise) /
                      std::chrono::duration<double>(day.sunset - day.sunrise);
  return day.brightest * std::sin(std::numbers::pi * part);
}

OutdoorWeather::Sky OutdoorWeather::sky(Instant at) const {
  const double clear = clearness(at);
  const double cloud_factor = std::clamp(1.35 * clear - 0.35, 0.05, 1.0);
  const Celsius dew{between_hours(dew_points_, at)};
  const double vapour = saturation_pressure(dew).kilopascals;
  const double lost = (0.34 - 0.14 * std::sqrt(vapour)) * cloud_factor;
  return {.cloud_factor = cloud_factor,
          .sun = clear * clear_sun(at),
          .longwave = (1.0 - lost) * radiated(air(at).degrees),
          .dew_point = dew};
}

struct CoveredPlace::Around {
  double air;
  OutdoorWeather::Sky sky;
  double wind;                              // 0 to 1
  double warming;                           // by the sun, W/m2
  std::array<double, kMostSheets> absorbs;  // of longwave, by the sheets
};

CoveredPlace::CoveredPlace(const OutdoorWeather& weather)
    : weather_(&weather),
      now_(std::chrono::ceil<std::chrono::hours>(weather.hours().front().at)) {
  constexpr int kHours = 72;
  double sum = 0.0;
  for (int hour = 0; hour < kHours; ++hour)
    sum += weather.air(now_ + std::chrono::hours{hour}).degrees;
  soil_.fill(sum / kHours);
  surface_ = air_ = weather.air(now_).degrees;
}

void CoveredPlace::advance(Instant until) {
  while (now_ + kStep <= until)
    step();
}

void CoveredPlace::cover(int sheets) {
  if (sheets < 0 || static_cast<std::size_t>(sheets) > kMostSheets)
    throw std::logic_error("no such number of sheets");
  sheets_ = static_cast<std::size_t>(sheets);
  fleece_.fill(air_);
}

void CoveredPlace::step() {
  now_ += kStep;
  const auto sky = weather_->sky(now_);
  Around around{.air = weather_->air(now_).degrees,
                .sky = sky,
                .wind = 1.0 - sky.cloud_factor,
                .warming = kWarmingShare * sky.sun *
                           std::pow(kSunThrough, static_cast<double>(sheets_)),
                .absorbs = {}};
  // By the dew of the step before: within a step it would come and go.
  for (std::size_t i = 0; i < sheets_; ++i) {
    around.absorbs.at(i) =
        fleece_.at(i) < sky.dew_point.degrees ? kAbsorbsWet : kAbsorbsDry;
  }
  settle(around);
  conduct();
}

// Node by node, until none moves any more.
void CoveredPlace::settle(const Around& around) {
  constexpr int kMostSweeps = 500;
  constexpr double kSettled = 1e-6;
  const bool open = sheets_ == 0;
  const double to_air =
      open ? kSurfaceToAir + kSurfaceToAirWind * around.wind : kSurfaceToAirBelowFleece;
  const double air_before = air_;
  for (int sweep = 0; sweep < kMostSweeps; ++sweep) {
    double from_above = around.sky.longwave;
    double moved = 0.0;
    if (!open) moved = settle_sheets(around, from_above);

    Balance surface;
    surface.gain = around.warming;
    surface.radiate(from_above, 1.0, surface_);
    surface.exchange(to_air, air_, surface_);
    surface.exchange(kSurfaceToSoil, soil_[0], surface_);
    const double dew = open ? around.sky.dew_point.degrees : surface_;
    if (dew > surface_) surface.exchange(kDewToAir * to_air, dew, surface_);
    moved = std::max(moved, surface.settle(surface_));

    Balance air;
    air.exchange(kHeldByAir / kStepSeconds, air_before, air_);
    air.exchange(to_air, surface_, air_);
    if (open) {
      air.exchange(kAirToOutdoors + kAirToOutdoorsWind * around.wind, around.air, air_);
    } else {
      air.exchange(kAirToFleece, fleece_[0], air_);
      air.exchange(kLeak / static_cast<double>(sheets_), around.air, air_);
    }
    moved = std::max(moved, air.settle(air_));
    if (moved < kSettled) return;
  }
  throw std::logic_error("the covered place does not settle");
}

// From the innermost sheet out. Tells what longwave comes out below them.
double CoveredPlace::settle_sheets(const Around& around, double& longwave) {
  const std::size_t last = sheets_ - 1;
  std::array<double, kMostSheets + 1> down{};  // above the sheet of that number
  down.at(sheets_) = longwave;
  for (std::size_t i = sheets_; i-- > 0;) {
    const double absorbs = around.absorbs.at(i);
    down.at(i) = (1.0 - absorbs) * down.at(i + 1) + absorbs * radiated(fleece_.at(i));
  }
  double up = radiated(surface_);
  double moved = 0.0;
  for (std::size_t i = 0; i < sheets_; ++i) {
    double& sheet = fleece_.at(i);
    const double absorbs = around.absorbs.at(i);
    Balance balance;
    balance.radiate(absorbs * (down.at(i + 1) + up), 2.0 * absorbs, sheet);
    if (i == 0) balance.exchange(kAirToFleece, air_, sheet);
    if (i > 0) balance.exchange(kFleeceToFleece, fleece_.at(i - 1), sheet);
    if (i < last) balance.exchange(kFleeceToFleece, fleece_.at(i + 1), sheet);
    if (i == last) {
      const double to_outdoors = kFleeceToOutdoors + kFleeceToOutdoorsWind * around.wind;
      balance.exchange(to_outdoors, around.air, sheet);
      const double dew = around.sky.dew_point.degrees;
      if (dew > sheet) balance.exchange(kDewToAir * to_outdoors, dew, sheet);
    }
    up = (1.0 - absorbs) * up + absorbs * radiated(sheet);
    moved = std::max(moved, balance.settle(sheet));
  }
  longwave = down.at(0);
  return moved;
}

void CoveredPlace::conduct() {
  std::array<double, kSlabs> gains{};  // W/m2
  gains[0] += kSurfaceToSoil * (surface_ - soil_[0]);
  for (std::size_t i = 0; i + 1 < kSlabs; ++i) {
    const double apart = (kThickness.at(i) + kThickness.at(i + 1)) / 2.0;
    const double down = kConductivity / apart * (soil_.at(i) - soil_.at(i + 1));
    gains.at(i) -= down;
    gains.at(i + 1) += down;
  }
  for (std::size_t i = 0; i < kSlabs; ++i)
    soil_.at(i) += gains.at(i) * kStepSeconds / (kHeatCapacity * kThickness.at(i));
}

}  // namespace rimeward::testing
