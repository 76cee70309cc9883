// What is known of the garden at one moment: all that a notice rule may look at. Plain
// values and references, good for one look; no locking.

#pragma once

#include <chrono>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "daemon/base/doubt.h"
#include "daemon/base/garden.h"
#include "daemon/base/zone.h"
#include "daemon/climate/recents.h"
#include "daemon/store/rows.h"
#include "sensors/channel.h"
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

// What was not believed of a sensor's newest dozen messages. Only what is kept as
// doubtful (DoubtTraits::is_kept) counts, and nothing that was measured while it was
// being checked.
struct Doubts {
  int readings = 0;                  // messages looked at
  int doubtful = 0;                  // of these, those with a doubtful reading in them
  Doubt mostly = Doubt::kNone;       // the reason of most of them
  std::optional<Channel> channel{};  // of the newest doubtful reading of that reason
  double last_said = 0;              // its value, in the channel's unit, as it was said
  Instant last_at{};                 // its time, as it is stored
};

// The newest charge that a sensor told of its battery; of a message that tells both, the
// percent: the sensor knows its own cells.
struct Battery {
  Channel channel{};  // kBatteryVoltage or kBatteryPercent
  double value = 0;   // in the channel's unit
  Instant at{};
};

struct SensorView {
  const Sensor* sensor = nullptr;
  const Place* place = nullptr;
  Instant last_heard;  // or since when it has been waited for, if never heard
  bool ever_heard = false;
  std::optional<std::chrono::seconds> usual_gap{};  // between its readings, lately
  std::optional<std::chrono::seconds> long_gap{};   // that it leaves now and then
  Doubts doubts{};
  bool being_checked = false;  // under a calibration, out of its place
  std::optional<Battery> battery{};
  // Since when it is waited for, whatever it said before: since it came into the
  // settings, or since the garden was heard again after a silence as a whole that was the
  // sensor's too (daemon/notice/silence.h).
  Instant awaited_since{};
};

struct Situation {
  Instant now;
  const Zone& zone;
  TemperatureUnit units = TemperatureUnit::kCelsius;
  std::vector<PlaceView> places;
  std::vector<SensorView> sensors;
};

}  // namespace rimeward
