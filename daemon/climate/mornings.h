// When a glazed or covered place will get too warm this morning, from its own trend and
// from how its past mornings went. Plain values, no locking.
//
// A place's mornings are told by the share of the time from sunrise to solar noon that
// has passed, and by their usual rise, so that a frame and a tunnel, March and June, are
// one and the same to the forecast. What it weighs (the slope of the last three quarters
// of an hour, which counts for less as noon nears; what the place usually still gains
// from here; how far it is from its usual high) is this project's own, measured on a
// simulated place under film over open hourly records, and on those records themselves
// for sensors that report by the hour. Neither weights nor odds were fitted to the tunnel
// that it is scored on (tests/daemon/climate/mornings_weather_test.cc); that some of the
// simulated places have the sun come round a corner was added after a first score there.

#pragma once

#include <array>
#include <cstddef>
#include <optional>
#include <string>
#include <string_view>

#include "daemon/climate/recents.h"
#include "daemon/climate/sun.h"
#include "sensors/result.h"
#include "sensors/units.h"

namespace rimeward {

// What past mornings of a place came to.
struct UsualMorning {
  // At each sixteenth of the time from sunrise to solar noon the usual gain since
  // sunrise.
  static constexpr std::size_t kPoints = 29;
  static constexpr double kPointsToNoon = 16;

  std::array<double, kPoints> gain{};  // kelvins
  double rise{};                       // from sunrise to the highest, kelvins
  std::optional<Celsius> high;         // absent before the first morning
  int mornings = 0;                    // that are in it; counts up to those that matter
  bool operator==(const UsualMorning&) const = default;
};

class Mornings {
 public:
  // Starts with a usual morning of the simulated places, which counts as one.
  Mornings();

  // A morning is over: looks at the readings from sunrise on. Called once a day, three
  // hours after solar noon. A morning with more than 100 minutes without a reading
  // teaches nothing.
  void learn(const Series& air, SunTime sunrise, SunTime noon);

  // When the air will come to `threshold`, by the readings at `now` and before; `now`
  // where it is there already. Nothing while that is not likely soon (odds of 18 %
  // within half an hour, of 30 % within the hour for an hourly sensor), before
  // sunrise, well after noon, or where the readings do not tell: the newest older than 75
  // minutes, or a trend that rests on less than twenty. At most two hours ahead.
  std::optional<Instant> crossing(const Series& air, SunTime sunrise, SunTime noon,
                                  Instant now, Celsius threshold) const;

  const UsualMorning& usual() const { return usual_; }

  // Goes on to the last bit. restore() refuses what save() cannot have written.
  std::string save() const;
  static Result<Mornings> restore(std::string_view text);

 private:
  UsualMorning usual_;
};

}  // namespace rimeward
