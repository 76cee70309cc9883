// The rows of the store as plain values: what a commit carries and what a query answers.

#pragma once

#include <chrono>
#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/base/doubt.h"
#include "sensors/channel.h"
#include "sensors/units.h"

namespace rimeward {

using SeriesId = std::int64_t;
using NoticeId = std::int64_t;

// One channel of one sensor in one place. A sensor that moves starts a new series, so
// that what it said of its old place stays there.
struct SeriesRow {
  SeriesId id = 0;
  std::string sensor{};
  std::string place{};
  Channel channel{};
  bool operator==(const SeriesRow&) const = default;
};

struct ReadingRow {
  Instant time{};
  SeriesId series = 0;
  Milli value = 0;
  bool operator==(const ReadingRow&) const = default;
};

// The newest reading of a series.
struct Latest {
  Instant time{};
  Milli value = 0;
  bool operator==(const Latest&) const = default;
};

// A reading not believed: kept with its reason, left out of everything that is computed.
struct DoubtfulRow {
  Instant time{};
  SeriesId series = 0;
  // In the channel's unit; as the sensor said it, but corrected where what came beside it
  // told against it (kJump, kStuck). May be far outside the channel's range.
  double value = 0;
  Doubt doubt = Doubt::kRange;
  std::string reason{};  // with the numbers
  bool operator==(const DoubtfulRow&) const = default;
};

// How often something was doubted of a sensor, and when.
struct TallyRow {
  std::string sensor{};
  std::optional<Channel> channel{};  // absent: of whole messages
  Doubt doubt = Doubt::kRange;
  std::int64_t count = 0;
  Instant first_at{};
  Instant last_at{};
  bool operator==(const TallyRow&) const = default;
};

// What earlier messages of a sensor told about its later ones (sensors/decoders.h).
struct FactRow {
  std::string sensor{};
  std::string name{};
  std::string value{};
  bool operator==(const FactRow&) const = default;
};

// A topic that belongs to no sensor of the garden, with the last it said.
struct HeardRow {
  std::string topic{};
  Instant first_at{};
  Instant last_at{};
  std::int64_t count = 0;  // of the times it was noted: at most once in ten minutes
  std::string payload{};   // its beginning, where it is long; any bytes
  bool operator==(const HeardRow&) const = default;
};

using CorrectionId = std::int64_t;

// What is added to a sensor's channel from `since` on: true = gain * said + offset. A
// reading keeps the correction of its date; one that is undone ends and stays.
struct CorrectionRow {
  CorrectionId id = 0;
  std::string sensor{};
  Channel channel{};
  Instant since{};
  std::optional<Instant> until{};  // undone, or followed by another
  bool undone = false;
  double gain = 1;
  double offset = 0;       // in the channel's unit
  double uncertainty = 0;  // of a corrected value near the points, same unit; 95 %
  std::string method{};    // "ice", "salt sodium-chloride", "offset", "two-point"
  // What was found: said and true, one or two pairs of numbers, as JSON.
  std::string points{};
  bool operator==(const CorrectionRow&) const = default;
};

// What a span of one series came to. A tie goes to the earlier time.
struct Extremes {
  Milli low = 0;
  Instant low_at{};
  Milli high = 0;
  Instant high_at{};
  std::int64_t sum = 0;    // of the values, in thousandths
  std::int64_t count = 0;  // of readings; never 0
  int hours = 0;           // UTC clock hours that hold at least one reading
  bool operator==(const Extremes&) const = default;
};

// One UTC clock hour of one series.
struct HourRow {
  Instant hour{};  // when it began
  Extremes extremes{};
  bool operator==(const HourRow&) const = default;
};

// One climatological day of one series.
struct DayRow {
  std::chrono::sys_days date{};  // the local date on which the day began
  SeriesId series = 0;
  Extremes extremes{};
  bool operator==(const DayRow&) const = default;
};

// One outlook as it was issued: frozen, for the record and for verification. Of the place
// without a cover.
struct OutlookRow {
  std::string place{};
  std::chrono::sys_days night{};  // the date of the morning
  int moment = 0;                 // daemon/climate/outlook.h, Moment
  Instant issued_at{};
  Instant sunset{};
  Instant sunrise{};
  Celsius low{};
  Celsius low10{};
  Celsius low90{};
  double spread_below = 0;  // degrees C: of the two half-normal sides
  double spread_above = 0;
  std::optional<Celsius> running_low{};  // lowest reading since sunset when issued
  bool humidity_known = true;
  std::optional<Celsius> air{};      // when issued; absent in rows from before version 4
  std::optional<Celsius> opinion{};  // what an outside opinion said, where it is in it
  // The place whose outlook stood in, its own air being unknown; empty: none did.
  std::string rests_on{};
  bool operator==(const OutlookRow&) const = default;
};

// What a night came to, as the thermometer had it, under whatever cover. Absent low: too
// few readings to say.
struct NightRow {
  std::string place{};
  std::chrono::sys_days night{};
  std::optional<Celsius> low{};
  std::optional<Instant> low_at{};
  // Of fleece that were on all night; absent: they were changed in the night.
  std::optional<int> layers = 0;
  double lift = 0;  // degrees C: what these were believed to add
  bool operator==(const NightRow&) const = default;
};

// kTold: a letter, which asks for nothing; over as soon as it is written.
enum class NoticeState { kRaised, kDelivered, kDone, kOvertaken, kLapsed, kTold };

std::string_view name_of(NoticeState state);  // raised, delivered, done, ...

// True while the gardener may still act on it.
constexpr bool is_open(NoticeState state) {
  return state == NoticeState::kRaised || state == NoticeState::kDelivered;
}

struct NoticeRow {
  NoticeId id = 0;
  std::string kind{};  // a rule's name: cover, danger, silent
  // The place's id, or the sensor's where the notice is about one, or "the garden".
  std::string subject{};
  std::string place{};
  NoticeState state = NoticeState::kRaised;
  Instant raised_at{};
  Instant spoke_at{};  // when it was last told, first or because it got worse
  std::optional<Instant> deadline{};  // by when to act
  std::optional<Instant> ends_at{};   // after which it lapses unsent
  std::optional<Instant> closed_at{};
  std::optional<Instant> reminded_at{};
  // Of what was told last: when it may leave, absent where no route is for it, and when
  // it first got through.
  std::optional<Instant> leaves_at{};
  std::optional<Instant> delivered_at{};
  int revision = 1;     // counts the times it spoke
  double urgency = 0;   // the rule's own scale; larger is worse
  int layers = 0;       // of fleece asked for, in all; 0: none
  int failures = 0;     // attempts to deliver what was told last that failed
  std::string title{};  // "Fleece the north frame tonight"
  std::string body{};   // why, with the numbers
  bool operator==(const NoticeRow&) const = default;
};

// Whether people know of it at `now`, as far as can be known: it got through, or is on
// its way and nothing has failed yet, or no route is for it and they look at the
// terminal.
constexpr bool has_reached_people(const NoticeRow& notice, Instant now) {
  if (notice.delivered_at || !notice.leaves_at) return true;
  if (notice.state == NoticeState::kDone) return true;
  return notice.failures == 0 && now >= *notice.leaves_at;
}

// How long a matter has stood or has been gone, between two looks at it. RecordOutcome so
// that a restart neither forgets a matter that is about to be raised nor raises one
// twice.
struct MatterRow {
  std::string kind{};
  std::string subject{};
  std::optional<Instant> holds_since{};
  std::optional<Instant> gone_since{};
  NoticeId notice = 0;  // the open notice, or 0
  // Answered by the gardener at this urgency: quiet until it has gone or is worse.
  std::optional<double> settled_urgency{};
  bool operator==(const MatterRow&) const = default;
};

enum class OutboxState { kWaiting, kDelivered, kGivenUp };

// One message still to reach, or that has reached, one route.
struct OutboxRow {
  std::int64_t id = 0;
  NoticeId notice = 0;
  int revision = 0;
  std::string route{};  // "mqtt-1": the route's kind and its number in the settings file
  std::string event{};  // raised, worse, reminder, changed, over, letter
  OutboxState state = OutboxState::kWaiting;
  Instant due_at{};  // not before
  std::optional<Instant> ends_at{};
  int attempts = 0;
  std::optional<Instant> delivered_at{};
  std::string trouble{};  // why the last attempt failed; empty when none did
  bool operator==(const OutboxRow&) const = default;
};

// How a route did lately.
struct RouteRow {
  std::string name{};
  std::optional<Instant> failing_since{};  // the first failure after the last success
  std::optional<Instant> delivered_at{};   // the last success
  std::string trouble{};                   // of the last failure
  bool operator==(const RouteRow&) const = default;
};

// A kind of notice that the gardener does not want to be told of for a while.
struct MuteRow {
  std::string kind{};
  std::string place{};  // empty: of all places
  Instant until{};
  bool operator==(const MuteRow&) const = default;
};

// That a place's lid, door or vents were opened or shut.
struct OpeningRow {
  std::string place{};
  Instant since{};
  bool open = false;
  bool operator==(const OpeningRow&) const = default;
};

// A place's cover from `since` on.
struct CoverRow {
  std::string place{};
  Instant since{};
  int layers = 0;
  bool operator==(const CoverRow&) const = default;
};

// Plants sown or taken on one date, of one crop.
struct BatchRow {
  std::string id{};              // as the gardener calls it at the terminal: "chillies"
  std::string crop{};            // a Crop's id
  std::chrono::sys_days sown{};  // local date
  int count = 0;                 // of plants; 0: not said
  std::string next_place{};      // where it is to go; empty: not said
  std::optional<std::chrono::sys_days> finished{};  // local date
  bool operator==(const BatchRow&) const = default;
};

// A batch's being in a place from `since` until its next stay begins.
struct StayRow {
  std::string batch{};
  Instant since{};  // the first: midnight of the day it was sown
  std::string place{};
  bool operator==(const StayRow&) const = default;
};

// A high and a low of a place that a person wrote down, before there was a sensor or
// beside it: the low of the night that ends on the date, the high of its day. At least
// one is there.
struct NotedDayRow {
  std::chrono::sys_days date{};  // local
  std::string place{};
  std::optional<Milli> low{};
  std::optional<Instant> low_at{};  // where that was written down, too
  std::optional<Milli> high{};
  std::optional<Instant> high_at{};
  bool operator==(const NotedDayRow&) const = default;
};

// That a place was watered.
struct WateringRow {
  std::string place{};
  Instant at{};
  bool operator==(const WateringRow&) const = default;
};

// What the gardener said at the terminal, waiting to be taken by the daemon.
struct ActionRow {
  std::int64_t id = 0;  // given by the store
  Instant at{};         // when it was said
  // cover, uncover, open, shut, water, done, mute; check, correct, uncorrect; sow, move,
  // finish; import
  std::string verb{};
  std::string place{};   // cover, uncover, open, shut, water; mute: or empty
  int layers = 0;        // cover
  NoticeId notice = 0;   // done
  std::string sensor{};  // check, correct, uncorrect
  // sow, move, finish: a batch as JSON (daemon/store/batch_json.h).
  // check: for how many seconds from `at` on its readings are not the place's, "0": no
  // longer. correct: a CorrectionRow as JSON. uncorrect: the correction's id.
  // mute: the kind of notice, a space, and until when as ISO 8601 in UTC.
  // import: "begun" beside the first of what is imported; at the end nothing, which asks
  // to start over from what the store now holds.
  std::string detail{};
  bool operator==(const ActionRow&) const = default;
};

// How much of what is held lies packed.
struct PackingState {
  std::optional<Instant> oldest_loose{};               // reading that is not packed
  std::optional<std::chrono::sys_days> last_packed{};  // UTC day
  bool operator==(const PackingState&) const = default;
};

// What the daemon wrote to its medium on a UTC day.
struct WrittenRow {
  std::chrono::sys_days day{};
  std::int64_t bytes = 0;
  bool operator==(const WrittenRow&) const = default;
};

// Everything that one group commit writes, all or nothing. Rows with a key replace the
// stored row of that key; the later of two in one commit wins.
struct Changes {
  std::vector<SeriesRow> series;  // new ones
  std::vector<ReadingRow> readings;
  std::vector<DoubtfulRow> doubtful;
  std::vector<ReadingRow> believed_again;  // stored as doubtful: readings after all
  std::vector<DoubtfulRow> withdrawn;      // stored as readings: doubtful after all
  std::vector<TallyRow> tallies;           // counts to be added to those stored
  std::map<std::pair<std::string, std::string>, FactRow> facts;  // by sensor, name
  std::map<std::string, std::optional<HeardRow>> heard;  // by topic; absent: forgotten
  std::map<CorrectionId, CorrectionRow> corrections;
  std::vector<OutlookRow> outlooks;
  std::vector<NightRow> nights;
  std::vector<CoverRow> covers;
  std::vector<OpeningRow> openings;
  std::map<std::string, BatchRow> batches;  // by id
  std::vector<StayRow> stays;
  std::vector<WateringRow> waterings;
  std::vector<NotedDayRow> noted_days;
  std::map<std::pair<std::string, std::string>, std::string> learned;  // place, subject
  std::map<std::pair<std::string, std::string>, MatterRow> matters;    // by kind, subject
  std::map<NoticeId, NoticeRow> notices;
  std::map<std::int64_t, OutboxRow> outbox;
  std::map<std::string, RouteRow> routes;                        // by name
  std::map<std::pair<std::string, std::string>, MuteRow> mutes;  // by kind, place
  std::map<std::string, std::int64_t> marks;  // where the daemon had got to, by name
  Instant now{};  // the garden's clock: hours that ended by then are summarised
};

// Readings from a file of records rather than from sensors as they speak.
struct Records {
  // The ids are the caller's own, by which `readings` name them; in the store a series is
  // found by its sensor, place and channel, or made.
  std::vector<SeriesRow> series;
  std::vector<ReadingRow> readings;
  Instant now{};  // as in Changes
};

// What became of a record. Neither: all of it was there before.
struct RecordOutcome {
  bool is_new = false;   // something of it was stored
  bool differs = false;  // something differs from what is stored, which stays
  // From before what is kept ([store] keep_readings): not stored.
  bool is_too_old = false;
  bool operator==(const RecordOutcome&) const = default;
};

}  // namespace rimeward
