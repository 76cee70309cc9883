// What is known of the garden at one moment: all that a notice rule may look at. Plain
// values and references, good for one look; no locking.

#pragma once

#include <chrono>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "daemon/base/garden.h"
#include "daemon/base/zone.h"
#include "daemon/climate/recents.h"
#include "daemon/store/rows.h"
#include "sensors/units.h"

namespace rimeward {

// The night under way or to come, by the sun.
struct NightSpan {
  Instant afternoon;  // three hours after solar noon: from here on it is "tonight"
  Instant sunset;
  Instant sunrise;
};

struct PlaceView {
  const Place* place = nullptr;
  const Recents* recents = nullptr;
  std::optional<NightSpan> night;       // absent where the sun stays up or down
  std::span<const OutlookRow> tonight;  // issued for `night`, oldest first
  int cover_layers = 0;                 // on it now
  // The newest `cover` notice raised for this night, open or closed.
  const NoticeRow* cover_notice = nullptr;
};

struct SensorView {
  const Sensor* sensor = nullptr;
  const Place* place = nullptr;
  Instant last_heard;  // or since when it has been waited for, if never heard
  bool ever_heard = false;
  std::optional<std::chrono::seconds> usual_gap;  // between its readings, lately
};

struct Situation {
  Instant now;
  const Zone& zone;
  TemperatureUnit units = TemperatureUnit::kCelsius;
  std::vector<PlaceView> places;
  std::vector<SensorView> sensors;
};

}  // namespace rimeward
