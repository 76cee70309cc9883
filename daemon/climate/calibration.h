// What a check of a sensor against something known comes to: whether it has settled, what
// it says then, and what must be added to that. Pure.
//
// Uncertainties are standard ones, in the channel's unit, unless they say "95 %", which
// is twice that (coverage factor 2; GUM, JCGM 100:2008, section 6).

#pragma once

#include <array>
#include <chrono>
#include <cstddef>
#include <optional>
#include <span>
#include <string_view>

#include <tl/expected.hpp>

#include "daemon/climate/recents.h"
#include "sensors/channel.h"
#include "sensors/result.h"
#include "sensors/sensor_type.h"
#include "sensors/units.h"

namespace rimeward {

// --- settled or not

// When a sensor counts as settled. Where it cannot tell values so near apart, its own
// resolution counts in the place of `drift` and `scatter`.
struct SteadyLimits {
  std::chrono::seconds span;  // at least so long, with at least kSteadyReadings in it
  double drift;               // at most, from the span's beginning to its end
  double scatter;             // standard deviation, at most
  double coarsest;            // the resolution, where nothing tells it
};

inline constexpr std::size_t kSteadyReadings = 5;
// In degrees C. A quarter of the drift and scatter that would spoil a tenth of a degree.
inline constexpr SteadyLimits kSteadyInIce{std::chrono::minutes{5}, 0.03, 0.05, 0.5};
// In % relative humidity.
inline constexpr SteadyLimits kSteadyOverSalt{std::chrono::hours{1}, 0.3, 0.3, 1.0};

struct SteadyValue {
  double mean = 0;
  double uncertainty = 0;  // of the mean: scatter, drift and resolution
  double resolution = 0;   // the smallest step it was seen to make
  std::size_t readings = 0;
  Instant from;
  Instant to;
};

// Why it has not settled yet.
struct NotSteady {
  enum class Why { kTooFew, kTooShort, kDrifts, kScatters };
  Why why = Why::kTooFew;
  std::size_t readings = 0;      // so far; of kTooFew
  std::chrono::seconds span{0};  // that was looked at
  double amount = 0;             // the drift, with its sign, or the scatter
};

// The newest readings that span long enough are looked at; all of them tell the
// resolution. REQUIRES: in order of time, as the sensor said them.
tl::expected<SteadyValue, NotSteady> steady(std::span<const TimedValue> readings,
                                            const SteadyLimits& limits);

// --- what is known

struct KnownValue {
  double value = 0;  // in the channel's unit
  double uncertainty = 0;
};

// Of crushed ice with a little water in a flask: 0 °C. A laboratory comes within 0.01 °C
// (Measurement Standards Laboratory of New Zealand, Technical Guide 1, version 3, 2019);
// the uncertainty here is our own allowance for tap water and a kitchen's flask.
KnownValue ice_point();

// The humidity above a salt's saturated solution: Greenspan 1977, J. Res. Natl. Bur.
// Stand. 81A:89-96, table 1. The linear terms of lithium chloride and potassium carbonate
// have the sign with which that paper's own table 2 comes out.
struct Salt {
  std::string_view name;              // "sodium-chloride"
  std::string_view words;             // "sodium chloride (table salt)"
  std::array<double, 4> coefficient;  // of 1, t, t^2, t^3; t in degrees C
  double warmest;                     // degrees C; the coldest is 0
  // The paper's own at 25 °C, in %; figures from memory, taken as 95 %.
  double published_uncertainty;
};

std::span<const Salt> all_salts();             // driest first
const Salt* find_salt(std::string_view name);  // nullptr: none of that name

// `swing` is how far the temperature went up and down while the sensor was read. Between
// sensor and salt a degree makes about 6 % of the reading; a tenth of a degree is allowed
// for even where nothing swung. Refuses a temperature that the formula does not cover.
Result<KnownValue> salt_humidity(const Salt& salt, Celsius at, Kelvins swing);

// --- the correction

// What a sensor said where something else was known to be true.
struct CheckPoint {
  double said = 0;
  double known = 0;
  double uncertainty = 0;  // of the difference
};

// true = gain * said + offset.
struct CorrectionLine {
  double gain = 1;
  double offset = 0;         // in the channel's unit
  double uncertainty95 = 0;  // of a corrected value near the points
};

CheckPoint check_point(const SteadyValue& said, const KnownValue& known);
CorrectionLine offset_through(const CheckPoint& point);
// Refuses points that are too near to each other to tell a slope.
Result<CorrectionLine> line_through(const CheckPoint& one, const CheckPoint& other,
                                    Channel channel);

// A sound sensor is not further off: 1 °C, or twice what its type promises where that is
// less; 10 % relative humidity, twice the worst that a DHT22's data sheet allows. Nothing
// for a channel that has no such limit.
std::optional<double> largest_sound_offset(Channel channel, const SensorType* type);

}  // namespace rimeward
