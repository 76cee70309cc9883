// The last two days of one place's readings, in memory, as the outlook looks at them.
// Plain values, no locking.

#pragma once

#include <chrono>
#include <cstddef>
#include <optional>
#include <span>
#include <vector>

#include "daemon/climate/sun.h"
#include "sensors/units.h"

namespace rimeward {

struct TimedValue {
  Instant at;
  double value;  // in the channel's unit, made from thousandths (from_milli)
  constexpr bool operator==(const TimedValue&) const = default;
};

// Values of one channel of one place, by time, one a second at most.
class Series {
 public:
  // Appending costs O(1), inserting before the end O(n). False, and nothing changed, when
  // there is a value of that second.
  bool insert(Instant at, double value);

  // Takes a value out; false when there is none of that second. O(n).
  bool erase(Instant at);

  // Drops what is older than `oldest`; O(1) a value over the series' life.
  void forget_before(Instant oldest);

  // Oldest first. Any span is good until the next change.
  std::span<const TimedValue> values() const;
  // What lies after `from` and not after `to`.
  std::span<const TimedValue> between(SunTime from, SunTime to) const;
  // All that is not after `to`.
  std::span<const TimedValue> until(SunTime to) const;

  // The newest value not after `at` and at most `tolerance` older.
  std::optional<TimedValue> newest_at_or_before(
      SunTime at, std::chrono::duration<double> tolerance) const;

 private:
  // The forgotten stand at the front until they are as many as the rest.
  std::vector<TimedValue> values_;
  std::size_t forgotten_ = 0;
};

struct Recents {
  Series air;           // degrees C
  Series humidity;      // percent
  Series pressure;      // hPa, of the place or of its garden
  Series forecast_low;  // degrees C: outside opinions of the coming night's low

  void forget_before(Instant oldest) {
    air.forget_before(oldest);
    humidity.forget_before(oldest);
    pressure.forget_before(oldest);
    forecast_low.forget_before(oldest);
  }
};

// The air of a humidity reading may be this much older: sensors that report each channel
// for itself seldom do so in the same second.
inline constexpr std::chrono::minutes kAirForHumidity{15};

// The newest dew point not after `at` and at most `tolerance` older: of the newest
// humidity reading that has an air temperature to go with it.
std::optional<Celsius> newest_dew_point(const Recents& recents, SunTime at,
                                        std::chrono::duration<double> tolerance);

// The mean of the dew points of the readings after `from` and not after `to`. Nothing
// when they are fewer than `fewest`.
std::optional<Celsius> mean_dew_point(const Recents& recents, SunTime from, SunTime to,
                                      std::size_t fewest);

}  // namespace rimeward
