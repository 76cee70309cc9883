// How long the plants of a place stay damp or wet, by its hours: what grey mould and
// potato blight need. Pure.
//
// No surface is measured. What leaves and glass are at night is taken from the air, on
// the warm side, so that what is counted as wet most likely was. By day the sun warms
// both, and only the humidity counts.

#pragma once

#include <chrono>
#include <cstdint>
#include <optional>

#include "daemon/base/garden.h"
#include "daemon/base/quantities.h"
#include "daemon/climate/hour_book.h"
#include "sensors/units.h"

namespace rimeward {

// Leaves under cover on a night when the place loses warmth to the sky: 1 K below the
// air. They see glass and not the sky: exchanging 5 W/(m2 K) by radiation with glass that
// is 4 K below the air and 15 with the air and their neighbours, they come to 1 K below
// it. An estimate; common practice has 1 to 2 K and no source.
Celsius leaf_at_night(Celsius air);

// Single glass or film between the air on both sides: midway. By resistances of 0.13
// m2K/W inside (ISO 6946, from memory) and 0.08 outside in a sheltered place (CIBSE Guide
// A, table A3.6) it would be at 0.38 of the way from outside, and under a clear sky
// colder: midway is common practice and errs on the warm side.
Celsius glass_at_night(Celsius inside, Celsius outside);

// True where water vapour of this pressure condenses on a surface: at the dew point or
// below it.
bool condenses(Kilopascals vapour, Celsius surface);

// Any night near the hours asked about; those before and after are taken to be as long
// and at the same times of day, which is a few minutes wrong in three days.
struct DarkHours {
  Instant sunset;
  Instant sunrise;
};

// True where the middle of the hour that begins then is between sunset and sunrise.
bool is_dark(Instant hour, const DarkHours& night);

// What is known of a place about its damp hours.
struct DampPlace {
  const HourBook& inside;
  const HourBook* outside = nullptr;  // of the free air; null: not measured
  std::optional<DarkHours> night{};   // absent: the sun stays up or down
};

// Hours in a row that were damp: the air at the limit or above, or water condensing on
// leaves or glass, while the place was neither colder nor warmer than the limits.
struct DampRun {
  Instant ends{};  // of its last hour
  int hours = 0;
  int condensing = 0;  // of these, with water condensing on leaves or glass
  bool operator==(const DampRun&) const = default;
};

// Runs are followed back for no longer than this.
inline constexpr int kLongestDampRun = 48;

// The run whose last hour begins at `last`; of no hours where that one was not damp, or
// is not known. Bridged hours (hour_book.h) count as known.
DampRun damp_run(const DampPlace& place, const DampLimits& limits, Instant last);

// A day as blight rules look at it.
struct BlightDay {
  Celsius low;
  int damp_hours = 0;  // with the humidity at the limit or above, in a row or not
};

// From the hours that begin within the day. Nothing where the temperature of any of them
// is not known: the low may have been there. An hour without humidity is not damp.
// REQUIRES: begins < ends.
std::optional<BlightDay> blight_day(const HourBook& hours, Instant begins, Instant ends,
                                    RelativeHumidity damp);

// True where a day that is as warm and as damp as the limits ask follows another such.
// Source: the Hutton criteria, two consecutive days with a low of at least 10 degrees C
// and at least 6 hours of at least 90 % each (AHDB project 11120018, James Hutton
// Institute, 2017).
bool is_blight_period(const std::optional<BlightDay>& day_before,
                      const std::optional<BlightDay>& day, const BlightLimits& limits);

}  // namespace rimeward
