#include "daemon/sensing.h"

#include <algorithm>
#include <charconv>
#include <chrono>
#include <ranges>

#include <fmt/format.h>

#include "daemon/notice/silence.h"
#include "daemon/store/correction_json.h"
#include "daemon/store/marks.h"
#include "sensors/escape.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;

// A sensor whose own time was not believable so often in a row has a clock that is wrong:
// what it measures is true all the same, and dated as it arrives.
constexpr int kClockIsWrong = 3;
// Copies of one message, passed on by several receivers, come within this.
constexpr auto kCopies = 10min;
// No sensor is silent sooner than this.
constexpr auto kShortestSilence = 1min;
// Some more than a decoder lets a device tell.
constexpr std::size_t kMostFacts = 300;

std::int64_t seconds_of(Instant at) {
  return at.time_since_epoch().count();
}

Instant instant_of(std::int64_t seconds) {
  return Instant{std::chrono::seconds{seconds}};
}

// The channels of which the air or the ground sets how fast they can go.
bool can_be_judged(Channel channel) {
  return channel == Channel::kAirTemperature || channel == Channel::kHumidity ||
         channel == Channel::kSoilTemperature || channel == Channel::kPressure;
}

// One barometer serves a garden, and an opinion from outside is of its whole night.
bool is_of_all_places(Channel channel) {
  return channel == Channel::kPressure || channel == Channel::kForecastLow;
}

// A correction must not lead out of what a percentage can be.
double within_percent(Channel channel, double value) {
  const bool percent = channel == Channel::kHumidity || channel == Channel::kSoilMoisture;
  return percent ? std::clamp(value, 0.0, 100.0) : value;
}

// Takes the last of `rows` that `is_it` accepts out; false: none.
template <class Row, class IsIt>
bool take_out(std::vector<Row>& rows, const IsIt& is_it) {
  const auto found = std::ranges::find_if(rows | std::views::reverse, is_it);
  if (found == rows.rend()) return false;
  rows.erase(std::next(found).base());
  return true;
}

}  // namespace

template <class Act>
void Sensing::in_its_places(std::size_t sensor, Channel channel, const Act& act) {
  if (!is_of_all_places(channel)) return act(places_[listeners_[sensor].place]);
  for (PlaceClimate& place : places_)
    act(place);
}

void Sensing::start_waiting(Instant now, Changes& changes) {
  for (std::size_t i = 0; i < listeners_.size(); ++i) {
    if (!listeners_[i].waited_for_since) wait_for(i, now, changes);
  }
}

void Sensing::forget_before(Instant oldest) {
  for (auto& [key, track] : tracks_) {
    if (track.judge) track.judge->forget_before(oldest);
  }
}

// Whether the sensor's messages stand on topics below its own, as far as that is known.
bool Sensing::spans(std::size_t sensor) const {
  const Decoder* decoder = find_decoder(garden_.sensors[sensor].format);
  if (decoder == nullptr) {
    const auto found = listeners_[sensor].facts.find(kFactFormat);
    if (found != listeners_[sensor].facts.end()) decoder = find_decoder(found->second);
  }
  return decoder != nullptr && decoder->spans_topics;
}

std::vector<Sensing::Match> Sensing::matches(const Arrival& arrival) const {
  std::vector<Match> found;
  const std::string_view topic = arrival.topic;
  std::size_t length = topic.size();
  while (true) {
    const auto [first, last] = sensors_by_topic_.equal_range(topic.substr(0, length));
    const bool is_below = length < topic.size();
    for (auto it = first; it != last; ++it) {
      const bool open = garden_.sensors[it->second].format.empty();
      if (!open && spans(it->second) != is_below) continue;
      found.push_back({it->second, is_below ? topic.substr(length + 1) : ""});
    }
    if (length == 0) break;
    length = topic.rfind('/', length - 1);
    if (length == std::string_view::npos) break;
  }
  std::ranges::sort(found, {}, &Match::sensor);
  return found;
}

SensorMessage Sensing::message_of(const Match& match, const Arrival& arrival) const {
  return {arrival, match.below, garden_.sensors[match.sensor],
          listeners_[match.sensor].facts};
}

Dating Sensing::dating_for(std::size_t sensor, std::optional<Instant> now) const {
  return {.clock = clock_,
          .now = now,
          .clock_is_wrong = listeners_[sensor].clock_wrong >= kClockIsWrong};
}

std::optional<Instant> Sensing::told_time(const Arrival& arrival) const {
  std::optional<Instant> newest;
  if (arrival.retained) return newest;
  for (const Match& match : matches(arrival))
    newest = std::max(newest, time_told_in(message_of(match, arrival)));
  return newest;
}

std::optional<Instant> Sensing::believable_time(const Arrival& arrival,
                                                std::optional<Instant> now) const {
  std::optional<Instant> newest;
  for (const Match& match : matches(arrival)) {
    const Intake intake =
        take_in(message_of(match, arrival), dating_for(match.sensor, now));
    for (const DatedSample& sample : intake.samples) {
      if (sample.doubt == Doubt::kNone) newest = std::max(newest, {sample.time});
    }
  }
  return newest;
}

void Sensing::take(const Arrival& arrival, Instant now, Changes& changes) {
  now_ = now;
  bool is_of_a_sensor = false;
  for (const Match& match : matches(arrival))
    is_of_a_sensor |= take_message(match, arrival, changes);
  if (is_of_a_sensor) return;
  heard_topics_.note(arrival, changes);
  warn(arrival.topic,
       fmt::format("message on \"{}\" not stored", escaped(arrival.topic, 120)),
       "no sensor of the garden has this topic");
}

// False: it is none of the sensor's, which only might have spoken on topics like it.
bool Sensing::take_message(const Match& match, const Arrival& arrival, Changes& changes) {
  const std::size_t sensor = match.sensor;
  const Intake intake = take_in(message_of(match, arrival), dating_for(sensor, now_));
  const bool refused = intake.refused != Doubt::kNone;
  if (refused && !match.below.empty() && !spans(sensor)) return false;
  learn(sensor, intake.facts, changes);
  if (refused) {
    count(sensor, std::nullopt, intake.refused, 1, now_, changes);
    warn(arrival.topic,
         fmt::format("message on \"{}\" not stored", escaped(arrival.topic, 120)),
         intake.why);
    return true;
  }
  if (intake.samples.empty()) return true;
  if (intake.clock) note_clock(sensor, *intake.clock, changes);
  note_heard(changes);
  if (is_repeat(sensor, intake, changes)) return true;
  for (const DatedSample& sample : intake.samples)
    take_sample(sensor, sample, changes);
  return true;
}

void Sensing::learn(std::size_t sensor, const Facts& facts, Changes& changes) {
  Facts& known = listeners_[sensor].facts;
  const std::string& id = garden_.sensors[sensor].id;
  for (const auto& [name, value] : facts) {
    if (known.size() >= kMostFacts && !known.contains(name)) continue;
    known.insert_or_assign(name, value);
    changes.facts[{id, name}] = {.sensor = id, .name = name, .value = value};
    if (name != kFactFormat) continue;
    log_(LogLevel::kInfo, fmt::format("{} speaks {}, as its messages show", id, value));
  }
}

// `clock`: what the message shows of the sensor's clock, kNone when it is right.
void Sensing::note_clock(std::size_t sensor, Doubt clock, Changes& changes) {
  int& wrong = listeners_[sensor].clock_wrong;
  // Dated as they came, such readings are believed, but the fault is still one.
  if (clock != Doubt::kNone && wrong >= kClockIsWrong) {
    count(sensor, std::nullopt, clock, 1, now_, changes);
  }
  const int next = clock == Doubt::kNone ? 0 : std::min(wrong + 1, kClockIsWrong);
  if (next == wrong) return;
  wrong = next;
  changes.marks[kMarkClockWrong + garden_.sensors[sensor].id] = next;
  if (next == kClockIsWrong) {
    log_(LogLevel::kWarning,
         fmt::format("the clock of {} is wrong; its readings are dated as they arrive",
                     garden_.sensors[sensor].id));
  }
}

// A sensor has spoken: when that ends a silence of the whole garden, the others are
// waited for from now on, so that none is called silent for what was not its fault.
void Sensing::note_heard(Changes& changes) {
  const bool in_time = heard_at_ && now_ - *heard_at_ < kShortestSilence;
  heard_at_ = now_;
  if (in_time) return;
  const std::vector<SensorView> all = views(now_);
  const Silence silence = silence_among(all, now_);
  if (!silence.garden_since) return;
  for (std::size_t i = 0; i < listeners_.size(); ++i) {
    const bool by_itself = std::ranges::any_of(
        silence.sensors, [&](const SilentSensor& one) { return one.view == &all[i]; });
    if (!by_itself) wait_for(i, now_, changes);
  }
}

void Sensing::wait_for(std::size_t sensor, Instant since, Changes& changes) {
  listeners_[sensor].waited_for_since = since;
  changes.marks[kMarkWaitedFor + garden_.sensors[sensor].id] = seconds_of(since);
}

bool Sensing::is_repeat(std::size_t sensor, const Intake& intake, Changes& changes) {
  if (!intake.packet_id) return false;
  constexpr std::int64_t kIds = 256;
  const std::string& id = garden_.sensors[sensor].id;
  std::optional<std::int64_t>& last = listeners_[sensor].packet;
  const std::int64_t packet = seconds_of(now_) * kIds + *intake.packet_id;
  const bool repeated = last && *last % kIds == *intake.packet_id &&
                        now_ - instant_of(*last / kIds) < kCopies;
  if (repeated) {
    count(sensor, std::nullopt, Doubt::kRepeat, 1, now_, changes);
    return true;
  }
  last = packet;
  changes.marks[kMarkPacket + id] = packet;
  return false;
}

void Sensing::take_sample(std::size_t sensor, const DatedSample& sample,
                          Changes& changes) {
  const Sensor& from = garden_.sensors[sensor];
  Listener& listener = listeners_[sensor];
  Track& track = track_of(sensor, sample.channel, changes);
  const auto doubt_it = [&](Doubt why_not, const std::string& why) {
    doubt(track, sample.time, sample.said, why_not, why, changes);
  };
  if (sample.doubt != Doubt::kNone) return doubt_it(sample.doubt, sample.why);
  if (listener.checking_until && now_ < *listener.checking_until) {
    return doubt_it(Doubt::kCalibration, "the sensor is being checked");
  }
  const Implausible fault = implausible(sample.channel, sample.said, from.type);
  if (fault.doubt != Doubt::kNone) return doubt_it(fault.doubt, fault.why);
  const double value = within_percent(
      sample.channel,
      corrections_.corrected(from.id, sample.channel, sample.time, sample.said));
  settle(track, sample.time, to_milli(value), sample.said, changes);
}

// Decides about a reading that is possible in itself.
void Sensing::settle(Track& track, Instant time, Milli value, double said,
                     Changes& changes) {
  Doubt why_not = Doubt::kNone;
  std::string why;
  if (const auto there = reading_at(track, time)) {
    why_not = *there == value ? Doubt::kRepeat : Doubt::kSameSecond;
    why =
        fmt::format("a second value for this second; {} came first", from_milli(*there));
  } else if (track.judge) {
    Judge::Verdict verdict = track.judge->judge(time, value, others(track));
    for (const Judge::Held& held : verdict.believed_again)
      believe_again(track, held, changes);
    for (const Judge::Withdrawn& gone : verdict.withdrawn)
      withdraw(track, gone, changes);
    why_not = verdict.doubt;
    why = std::move(verdict.why);
  }
  if (why_not == Doubt::kRepeat) {
    return count(track.sensor, track.channel, Doubt::kRepeat, 1, time, changes);
  }
  if (why_not != Doubt::kNone) {
    const double kept = why_not == Doubt::kSameSecond ? said : from_milli(value);
    return doubt(track, time, kept, why_not, why, changes);
  }
  if (track.newest && time < *track.newest) {
    count(track.sensor, track.channel, Doubt::kOutOfOrder, 1, time, changes);
  }
  const ReadingRow row{.time = time, .series = track.series, .value = value};
  believe(track, row);
  changes.readings.push_back(row);
}

// What the place remembers of that second. Of series that do not speak for their place
// the judge remembers, and in the end the store.
std::optional<Milli> Sensing::reading_at(const Track& track, Instant time) const {
  const Series* readings =
      places_[listeners_[track.sensor].place].readings_of(track.series);
  if (readings == nullptr) return std::nullopt;
  const auto there = readings->newest_at_or_before(time, 0s);
  return there ? std::optional(to_milli(there->value)) : std::nullopt;
}

void Sensing::believe(Track& track, const ReadingRow& row) {
  remember(track, row);
  season_.add(track.sensor, track.channel, row.time, row.value);
  listeners_[track.sensor].health.believed(row.time, track.channel,
                                           from_milli(row.value));
}

void Sensing::remember(Track& track, const ReadingRow& row) {
  track.newest = std::max(track.newest, {row.time});
  in_its_places(track.sensor, track.channel,
                [&](PlaceClimate& place) { place.take(row); });
}

void Sensing::believe_again(Track& track, const Judge::Held& held, Changes& changes) {
  const ReadingRow row{.time = held.time, .series = track.series, .value = held.value};
  const bool uncommitted = take_out(changes.doubtful, [&](const DoubtfulRow& one) {
    return one.series == row.series && one.time == row.time && one.doubt == Doubt::kJump;
  });
  (uncommitted ? changes.readings : changes.believed_again).push_back(row);
  believe(track, row);
  count(track.sensor, track.channel, Doubt::kJump, -1, row.time, changes);
}

void Sensing::withdraw(Track& track, const Judge::Withdrawn& gone, Changes& changes) {
  const auto is_it = [&](const ReadingRow& one) {
    return one.series == track.series && one.time == gone.time;
  };
  const double value = from_milli(gone.value);
  const DoubtfulRow row{.time = gone.time,
                        .series = track.series,
                        .value = value,
                        .doubt = gone.doubt,
                        .reason = gone.why};
  const bool uncommitted =
      take_out(changes.readings, is_it) || take_out(changes.believed_again, is_it);
  (uncommitted ? changes.doubtful : changes.withdrawn).push_back(row);
  in_its_places(track.sensor, track.channel,
                [&](PlaceClimate& place) { place.withdraw(track.series, gone.time); });
  season_.remove(track.sensor, track.channel, gone.time, gone.value);
  listeners_[track.sensor].health.doubted(gone.time, track.channel, value, gone.doubt);
  count(track.sensor, track.channel, gone.doubt, 1, gone.time, changes);
}

void Sensing::doubt(Track& track, Instant time, double said, Doubt why_not,
                    const std::string& why, Changes& changes) {
  const std::string& id = garden_.sensors[track.sensor].id;
  changes.doubtful.push_back({.time = time,
                              .series = track.series,
                              .value = said,
                              .doubt = why_not,
                              .reason = why});
  listeners_[track.sensor].health.doubted(time, track.channel, said, why_not);
  count(track.sensor, track.channel, why_not, 1, time, changes);
  if (why_not == Doubt::kCalibration) return;
  warn(id, fmt::format("{} of {} kept as doubtful", traits(track.channel).name, id),
       fmt::format("{}, it is {}", why, said));
}

void Sensing::count(std::size_t sensor, std::optional<Channel> channel, Doubt doubt,
                    std::int64_t number, Instant at, Changes& changes) const {
  const std::string& id = garden_.sensors[sensor].id;
  const auto counted = std::ranges::find_if(changes.tallies, [&](const TallyRow& row) {
    return row.sensor == id && row.channel == channel && row.doubt == doubt;
  });
  if (counted == changes.tallies.end()) {
    changes.tallies.push_back({.sensor = id,
                               .channel = channel,
                               .doubt = doubt,
                               .count = number,
                               .first_at = at,
                               .last_at = at});
    return;
  }
  counted->count += number;
  counted->first_at = std::min(counted->first_at, at);
  counted->last_at = std::max(counted->last_at, at);
}

// One line an hour for each topic or sensor and each kind of reason: what stands before
// the first particular of it (a number, a quotation).
void Sensing::warn(const std::string& about, const std::string& what,
                   const std::string& why) {
  const std::string kind = why.substr(0, why.find_first_of(":\"0123456789"));
  const auto passed = repeats_.pass(about + "\n" + kind, what + ": " + why, now_);
  if (passed) log_(LogLevel::kWarning, *passed);
}

Sensing::Track& Sensing::track_of(std::size_t sensor, Channel channel, Changes& changes) {
  const auto found = tracks_.find({sensor, channel});
  if (found != tracks_.end()) return found->second;
  const Sensor& from = garden_.sensors[sensor];
  changes.series.push_back({.id = last_series_ + 1,
                            .sensor = from.id,
                            .place = from.place,
                            .channel = channel});
  return add_track(last_series_ + 1, sensor, channel);
}

// A sensor of the place itself speaks for it before any other's.
std::size_t Sensing::rank_in(const PlaceClimate& place, std::size_t sensor) const {
  const bool its_own = &place == &places_[listeners_[sensor].place];
  return its_own ? sensor : garden_.sensors.size() + sensor;
}

Sensing::Track& Sensing::add_track(SeriesId series, std::size_t sensor, Channel channel) {
  last_series_ = std::max(last_series_, series);
  Track track{.series = series, .sensor = sensor, .channel = channel};
  if (can_be_judged(channel)) track.judge.emplace(channel);
  in_its_places(sensor, channel, [&](PlaceClimate& place) {
    place.adopt_series(series, channel, rank_in(place, sensor));
  });
  return tracks_.insert_or_assign({sensor, channel}, std::move(track)).first->second;
}

std::vector<const Judge*> Sensing::others(const Track& track) const {
  std::vector<const Judge*> judges;
  for (const auto& [key, other] : tracks_) {
    const bool elsewhere =
        listeners_[other.sensor].place != listeners_[track.sensor].place;
    if (elsewhere && other.channel == track.channel) judges.push_back(&*other.judge);
  }
  return judges;
}

void Sensing::take(const Dropped& dropped, Instant now, Changes& changes) {
  now_ = now;
  Arrival of_topic;
  of_topic.topic = dropped.topic;
  for (const Match& match : matches(of_topic)) {
    count(match.sensor, std::nullopt, dropped.why, dropped.count, now, changes);
  }
}

void Sensing::take(const ActionRow& action, Instant now, Changes& changes) {
  now_ = now;
  const auto sensor = std::ranges::find(garden_.sensors, action.sensor, &Sensor::id);
  if (sensor == garden_.sensors.end()) return;
  std::int64_t number = 0;
  const std::string& detail = action.detail;
  std::from_chars(detail.data(), detail.data() + detail.size(), number);
  if (action.verb == "check") {
    Listener& listener =
        listeners_[static_cast<std::size_t>(sensor - garden_.sensors.begin())];
    const Instant until = action.at + std::chrono::seconds{number};
    listener.checking_until = number > 0 ? std::optional(until) : std::nullopt;
    changes.marks[kMarkChecking + sensor->id] = number > 0 ? seconds_of(until) : 0;
  } else if (action.verb == "correct") {
    auto row = correction_from_json(detail);
    if (!row)
      return log_(LogLevel::kError, "a correction was not taken: " + row.error().message);
    row->sensor = sensor->id;
    corrections_.add(*std::move(row), now, changes);
  } else if (action.verb == "uncorrect") {
    corrections_.undo(number, now, changes);
  }
}

std::vector<SensorView> Sensing::views(Instant now) const {
  std::vector<SensorView> views;
  views.reserve(listeners_.size());
  for (std::size_t i = 0; i < listeners_.size(); ++i) {
    const Listener& listener = listeners_[i];
    const auto heard = listener.health.rhythm().last_heard();
    views.push_back(
        {.sensor = &garden_.sensors[i],
         .place = &places_[listener.place].place(),
         .last_heard = heard.value_or(listener.waited_for_since.value_or(now)),
         .ever_heard = heard.has_value(),
         .usual_gap = listener.health.rhythm().usual_gap(),
         .long_gap = listener.health.rhythm().long_gap(),
         .doubts = listener.health.doubts(),
         .being_checked = listener.checking_until && now < *listener.checking_until,
         .battery = listener.health.battery()});
  }
  return views;
}

}  // namespace rimeward
