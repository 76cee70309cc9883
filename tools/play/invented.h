// Invented spring days for a garden: mild at first, with a clear and cold last night, so
// that a frost notice is earned. Pure: the same plan gives the same readings.
//
// No forecast rests on this. Its shape is that of a fair day: warming from sunrise to two
// and a half hours after noon, and from sunset on a fall that is fast at first, as the
// square root of the time is (FAO, Frost Protection, vol. 1, 2005, ch. 5), but gentler.

#pragma once

#include <chrono>
#include <string>
#include <vector>

#include "daemon/base/garden.h"
#include "sensors/units.h"

namespace rimeward {

struct InventedPlan {
  Instant from;
  int days = 3;                     // 1 to 366
  std::chrono::seconds every{300};  // between two readings of a sensor
};

struct InventedClimate {
  Celsius air;
  RelativeHumidity humidity;
};

struct PlayedMessage {
  Instant time;
  std::string topic;
  std::string payload;
};

class InventedDays {
 public:
  InventedDays(const InventedPlan& plan, Position position);

  // The climate of a place of that kind at any time; outdoors, the low of the last night
  // that begins within the plan is about -3 degrees C.
  InventedClimate at(Instant time, PlaceKind kind) const;

 private:
  double outdoor_air(Instant time) const;
  double dew_point(Instant time) const;
  double high(std::int64_t day) const;       // degrees C
  double low_after(std::int64_t day) const;  // of the night that follows
  double noon_dew_point(std::int64_t day) const;
  // How far up the sun is: 0 at night, 1 at noon.
  double daylight(Instant time) const;

  Position position_;
  std::int64_t cold_evening_;  // the solar day before the cold night
};

// The messages of every sensor with an air temperature or a humidity, in order of time,
// then as the sensors stand in the settings, in each sensor's own format.
std::vector<PlayedMessage> invented_messages(const Garden& garden,
                                             const InventedPlan& plan);

}  // namespace rimeward
