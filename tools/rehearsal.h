// A rehearsal: recorded readings through the same turns as the daemon's, to see what
// would have been forecast and noticed. Reads no clock; deterministic.

#pragma once

#include <chrono>
#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "daemon/base/arrival.h"
#include "daemon/base/garden.h"
#include "daemon/base/zone.h"
#include "daemon/climate/outlook.h"
#include "daemon/climate/verification.h"
#include "daemon/intake.h"
#include "daemon/store/rows.h"
#include "tools/recorded.h"
#include "tools/yardsticks.h"

namespace rimeward {

struct RehearsedOutlook {
  std::string place;
  Outlook outlook;
  std::optional<Celsius> came;  // nothing when the night was not over, or left in doubt
};

// One telling of a notice, as it was then; the row may have changed since.
struct RehearsedTelling {
  std::string event;  // raised, worse, reminder
  NoticeRow notice;
};

// A night that is over, as its notices are judged.
struct RehearsedNight {
  std::string place;
  std::chrono::sys_days night{};  // the date of the morning
  std::optional<Celsius> low;     // nothing where it was left in doubt
  std::optional<Instant> low_at;
  std::optional<Celsius> keep_above;  // as it was then; nothing: nothing to protect
  std::optional<Instant> sunset;      // nothing where no outlook was issued
};

struct Rehearsal {
  std::int64_t readings = 0;               // stored; doubtful ones are not among them
  std::vector<TallyRow> doubts;            // what was not believed, or not stored
  std::vector<RehearsedOutlook> outlooks;  // by the time of issue, then place
  std::vector<RehearsedNight> nights;      // as they ended
  std::vector<NoticeRow> notices;          // oldest first
  std::vector<RehearsedTelling> tellings;  // in their order
};

// Rehearses a garden, as if it had one route, by which all is told at once. Feed it what
// happened, in order, then finish().
class Rehearser {
 public:
  // `garden` and `zone` must outlive the rehearser. `clock` is kReadings for recorded
  // readings, kSystem for a captured log.
  Rehearser(const Garden& garden, const Zone& zone, ClockSource clock,
            std::optional<Prior> prior);
  ~Rehearser();
  Rehearser(const Rehearser&) = delete;
  Rehearser& operator=(const Rehearser&) = delete;

  void feed(const Arrival& arrival);
  // What the gardener said, at its own time.
  void feed(const ActionRow& action);
  // A reading, as the message on `topic` that rimeward-play would publish.
  void feed(const RecordedReading& reading, const std::string& topic);

  Rehearsal finish();

 private:
  struct Parts;
  std::unique_ptr<Parts> parts_;
};

// One moment's outlooks of a place against what came. The first 14 nights that have one
// before them are for settling in, and counted apart with the very first.
struct MomentScores {
  Moment moment{};
  OutlookScores scores;       // from the 15th night on
  OutlookScores first;        // of the nights before it
  std::vector<OddsBin> odds;  // of `scores`
  Comparison beside;          // of the same nights, as far as the yardsticks go
};
inline constexpr std::chrono::days kSettlingNights{14};

struct PlaceScores {
  // The date of the first night that is not for settling in; absent where the record is
  // too short to have a night with one before it.
  std::optional<std::chrono::sys_days> settled_from;
  std::vector<MomentScores> moments;  // as kMoments
  // Of all moments together: nights that are counted four times, then.
  OutlookScores first;
  std::vector<OddsBin> odds;
};
PlaceScores scores_of(const Rehearsal& rehearsal, const std::string& place,
                      Celsius threshold, Odds call_at);

}  // namespace rimeward
