// A physical simulation of a bed under fleece, in real or invented outdoor weather: what
// learns the lift of a cover is tried on it. Deterministic; not thread-safe.
//
// Five slabs of soil store heat and conduct it; above them lie a crust with low plants,
// which is the surface, the air that the sensor reads, and the sheets of fleece. Every
// ten minutes all but the slabs settle to where each one's gains and losses by longwave
// and sun, to what lies beside it and by dew are in balance.
//
//  * The sky sends what equations 39 and 50 of FAO Irrigation and Drainage Paper 56
//    (Allen, Pereira, Raes & Smith 1998) leave: the net longwave of a clear sky by
//    Brunt's 0.34 - 0.14 sqrt(vapour pressure), times a cloud factor of 1.35 Rs/Rso -
//    0.35. Rs/Rso is not measured; after Hargreaves it is 0.16/0.75 times the root of the
//    day's range of temperature, here of the 24 hours about each midnight.
//  * The sun by day: that share of the clear sky's (equation 37) as half a sine wave.
//  * A sheet takes in most of the longwave when dry, nearly all with dew on it, and lets
//    87 % of the sun through; air leaks through it.
//  * Clear nights are taken to be calm and cloudy ones windy: the weather has no wind.
//
// Constants without a source beside them are from memory, of the size that textbooks of
// soil and air near the ground give. Those of a sheet and of still air are known to no
// better than a factor of two; within it they were chosen so that what covers add lies in
// the published order (daemon/climate/lift.h): 1 to 2 K for one sheet on a clear night,
// more for two, less under cloud, and at times less than nothing.

#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <map>
#include <vector>

#include "daemon/base/garden.h"
#include "sensors/units.h"

namespace rimeward::testing {

struct OutdoorHour {
  Instant at;
  Celsius air;
  RelativeHumidity humidity;
};

// Outdoor weather at any time from its first hour to its last.
class OutdoorWeather {
 public:
  // Between the hours the weather goes straight, over gaps too.
  // REQUIRES: two `hours` or more, in order of time, none twice.
  OutdoorWeather(Position position, std::vector<OutdoorHour> hours);

  const std::vector<OutdoorHour>& hours() const { return hours_; }
  Position position() const { return position_; }
  Celsius air(Instant at) const;

  struct Sky {
    double cloud_factor;  // 0.05 under thick cloud to 1 under a clear sky
    double sun;           // on level ground, in watts per square metre
    double longwave;      // from above, likewise
    Celsius dew_point;    // of the air
  };
  Sky sky(Instant at) const;

 private:
  struct SunOfDay {
    Instant sunrise;
    Instant sunset;
    double brightest = 0.0;  // watts per square metre, under a clear sky
  };
  void add_sun(std::int64_t day);
  double between_hours(const std::vector<double>& values, Instant at) const;
  double clearness(Instant at) const;
  double clear_sun(Instant at) const;

  Position position_;
  std::vector<OutdoorHour> hours_;
  std::vector<double> airs_;
  std::vector<double> dew_points_;
  std::map<std::int64_t, double> clearness_;  // of the midnight that begins a solar day
  std::map<std::int64_t, SunOfDay> suns_;
};

class CoveredPlace {
 public:
  // Uncovered, its soil as warm as the first days' air.
  // REQUIRES: `weather` outlives this and has three days or more.
  explicit CoveredPlace(const OutdoorWeather& weather);

  // As far as whole steps of ten minutes go. REQUIRES: not beyond the weather.
  void advance(Instant until);
  // That many sheets of fleece from now on; 0: none.
  void cover(int sheets);

  Instant now() const { return now_; }
  Celsius air() const { return {air_}; }  // where the sensor is

 private:
  static constexpr std::size_t kSlabs = 5;
  static constexpr std::size_t kMostSheets = 4;
  struct Around;

  void step();
  void settle(const Around& around);
  double settle_sheets(const Around& around, double& longwave);
  void conduct();

  const OutdoorWeather* weather_;
  Instant now_;
  std::size_t sheets_ = 0;
  // Degrees C. The slabs from the top, the sheets from the innermost.
  std::array<double, kSlabs> soil_{};
  double surface_ = 0.0;
  double air_ = 0.0;
  std::array<double, kMostSheets> fleece_{};
};

}  // namespace rimeward::testing
