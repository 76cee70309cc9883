// What is known of the garden at one moment: all that a notice rule may look at. Plain
// values and references, good for one look; no locking.

#pragma once

#include <chrono>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/base/crop.h"
#include "daemon/base/doubt.h"
#include "daemon/base/garden.h"
#include "daemon/base/zone.h"
#include "daemon/climate/hour_book.h"
#include "daemon/climate/lift.h"
#include "daemon/climate/mornings.h"
#include "daemon/climate/night_course.h"
#include "daemon/climate/recents.h"
#include "daemon/notice/store_trouble.h"
#include "daemon/notice/wording.h"
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

// The day under way, from one midnight of the sun's to the next.
struct DaySpan {
  Instant sunrise;
  Instant noon;
  Instant sunset;
};

// How dry the air of a place was since it was last watered.
struct Dryness {
  Instant since;  // the watering
  Sum demand{};   // thousandths of kPa h (daemon/climate/evaporation.h)
};

// The newest soil moisture of a place.
struct SoilMoisture {
  double percent = 0;
  Instant at{};
};

// A place whose air can stand in for that of another, whose sensor is silent.
struct StandIn {
  const Place* place = nullptr;
  const Recents* recents = nullptr;
  Kelvins warmer{};  // that the other's nights are
};

struct PlaceView {
  const Place* place = nullptr;
  // As set for the place, or what the most delicate batch in it needs, or the usual one
  // (daemon/notice/keep_above.h). Absent: nothing to protect here.
  std::optional<Celsius> keep_above{};
  const Recents* recents = nullptr;
  const HourBook* hours = nullptr;     // the last three days by the hour
  const Mornings* mornings = nullptr;  // what its mornings have taught
  std::span<const NightRow> nights{};  // the last three weeks', oldest first
  std::optional<Dryness> dryness{};    // absent: no watering was written down
  std::optional<SoilMoisture> soil_moisture{};
  std::optional<NightSpan> night;       // absent where the sun stays up or down
  std::span<const OutlookRow> tonight;  // issued for `night`, oldest first
  // The newest of these, brought up to now, without a cover; absent without one.
  std::optional<NightCourse> course{};
  std::optional<TimedValue> lowest{};  // since sunset, as measured; absent without one
  const Lifts* lifts = nullptr;        // what covers add here
  int cover_layers = 0;                // on it now
  // Open or shut, as last written down; absent: not within the last two weeks.
  std::optional<OpeningRow> opening{};
  std::optional<StandIn> stand_in{};  // where its own air was not heard for a while
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

// How far a batch has come towards one stage of its crop.
struct StageView {
  const CropStage* stage = nullptr;
  // Thousandths of degree C hours (daemon/climate/degree_days.h) since it was sown, or
  // since the stage was reached that this one is counted from.
  Sum warmth{};
};

// A batch that is not finished.
struct BatchView {
  const BatchRow* row = nullptr;
  const Crop* crop = nullptr;
  const Place* place = nullptr;  // where it is
  Instant since{};               // since when
  const Place* next = nullptr;   // where it is to go; null: not said
  Hardening hardening = Hardening::kSoft;
  std::vector<StageView> stages{};  // as the crop's
};

// A way to people that has failed for a while.
struct RouteView {
  std::string name;  // "email-1"
  Instant failing_since{};
  std::string trouble;                    // what went wrong last, and what to do
  std::optional<Instant> delivered_at{};  // the last that got through
  bool is_tried = false;  // something that failed still waits to be tried again
};

struct Situation {
  Instant now;
  Wording wording;  // in which findings are to speak
  const Zone& zone;
  GardenerHours hours{};
  const Advice& advice;          // the garden's thresholds
  std::optional<DaySpan> day{};  // absent where the sun stays up or down
  std::vector<PlaceView> places;
  std::vector<SensorView> sensors;
  std::vector<BatchView> batches{};
  std::vector<RouteView> routes{};
  std::string_view store_file{};
  std::optional<StoreTrouble> store_trouble{};  // absent: none that was not long over
};

}  // namespace rimeward
