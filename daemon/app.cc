#include "daemon/app.h"

#include <algorithm>
#include <chrono>
#include <variant>

#include <fmt/format.h>

#include "daemon/store/marks.h"
#include "sensors/escape.h"
#include "sensors/iso_time.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;

// Rows in memory from which a commit is due at once, and at which the oldest are let go
// when the store has not taken any for long (a full disk).
constexpr std::size_t kComfortable = 10'000;
constexpr std::size_t kMost = 500'000;
// A daemon that was down for longer looks back only this far: what was due earlier has
// lapsed anyway.
constexpr auto kLookBack = 48h;

Instant instant_of(std::int64_t seconds) {
  return Instant{std::chrono::seconds{seconds}};
}

std::int64_t seconds_of(Instant at) {
  return at.time_since_epoch().count();
}

Instant look_before(Instant at) {
  return std::chrono::floor<std::chrono::duration<std::int64_t, std::ratio<300>>>(at);
}
static_assert(kLookEvery == std::chrono::duration<std::int64_t, std::ratio<300>>{1});

}  // namespace

App::App(const Garden& garden, const Zone& zone, Store& store, AppOptions options)
    : garden_(garden),
      zone_(zone),
      store_(store),
      clock_(options.clock),
      log_(std::move(options.log)),
      observe_(std::move(options.observe)),
      keeper_(garden, store, log_) {
  store_.set_days(DayGrid(zone, garden.day_starts));
  if (const auto mark = store_.mark(kMarkNow)) now_ = instant_of(*mark);
  if (const auto mark = store_.mark(kMarkLookedAt)) looked_at_ = instant_of(*mark);
  last_action_ = store_.mark(kMarkAction).value_or(0);
  committed_sequence_ =
      static_cast<std::uint64_t>(store_.mark(kMarkSequence).value_or(0));
  taken_sequence_ = committed_sequence_;
  for (const CoverRow& cover : store_.covers())
    covers_[cover.place] = cover.layers;
  restore_places(options.prior);
  restore_series();
  restore_readings();
  restore_rhythms();
}

void App::restore_places(const std::optional<Prior>& prior) {
  places_.reserve(garden_.places.size());
  for (const Place& place : garden_.places) {
    const Prior& shipped = is_covered(place.kind) ? covered_prior() : open_air_prior();
    place_numbers_[place.id] = places_.size();
    places_.emplace_back(garden_, place, prior ? *prior : shipped, store_);
  }
  states_changed_.resize(places_.size());
}

void App::restore_series() {
  std::map<std::pair<std::string, std::string>, std::size_t> numbers;
  for (std::size_t i = 0; i < garden_.sensors.size(); ++i) {
    const Sensor& sensor = garden_.sensors[i];
    numbers[{sensor.id, sensor.place}] = i;
    sensors_by_topic_.emplace(sensor.topic, i);
  }
  for (const SeriesRow& row : store_.all_series()) {
    last_series_ = std::max(last_series_, row.id);
    const auto number = numbers.find({row.sensor, row.place});
    if (number == numbers.end()) continue;  // no longer in the settings file
    series_[{number->second, row.channel}] = row.id;
    places_[place_numbers_.at(row.place)].adopt_series(row.id, row.channel,
                                                       number->second);
  }
}

void App::restore_readings() {
  if (!now_) return;
  std::map<SeriesId, std::size_t> places;
  for (const auto& [key, series] : series_) {
    places[series] = place_numbers_.at(garden_.sensors[key.first].place);
  }
  store_.each_reading(*now_ - kRecentSpan, Instant::max(), [&](const ReadingRow& row) {
    const auto place = places.find(row.series);
    std::optional<Milli> stood;
    if (place != places.end()) places_[place->second].take(row, stood);
  });
}

void App::restore_rhythms() {
  listeners_.resize(garden_.sensors.size());
  for (const auto& [key, series] : series_) {
    const auto latest = store_.latest(series);
    if (!latest) continue;
    Rhythm& rhythm = listeners_[key.first].rhythm;
    rhythm.heard(latest->time);
    for (const Instant at :
         store_.latest_times(series, Rhythm::kReadings, latest->time - Rhythm::kSpan)) {
      rhythm.heard(at);
    }
  }
  for (std::size_t i = 0; i < listeners_.size(); ++i) {
    if (const auto mark = store_.mark(kMarkWaitedFor + garden_.sensors[i].id)) {
      listeners_[i].waited_for_since = instant_of(*mark);
    }
  }
}

void App::turn(const Message& message, Instant now) {
  if (now_) now = std::max(now, *now_);
  advance(now);
  now_ = now;
  changes_.marks[kMarkClockByReadings] = clock_ == ClockSource::kReadings ? 1 : 0;
  std::visit([this](const auto& one) { handle(one); }, message);
}

// Does what fell due before `now`, each at its own time: a reading of `now` itself still
// belongs to what is due then.
void App::advance(Instant now) {
  if (!looked_at_) looked_at_ = look_before(now);
  looked_at_ = std::max(*looked_at_, look_before(now - kLookBack));
  for (std::size_t i = 0; i < listeners_.size(); ++i) {
    if (listeners_[i].waited_for_since) continue;
    listeners_[i].waited_for_since = now;
    changes_.marks[kMarkWaitedFor + garden_.sensors[i].id] = seconds_of(now);
  }
  while (true) {
    const Instant next_look = *looked_at_ + kLookEvery;
    PlaceClimate* next = nullptr;
    SunTime due = std::min<SunTime>(now, next_look);
    for (PlaceClimate& climate : places_) {
      if (!climate.next_due() || *climate.next_due() >= due) continue;
      due = *climate.next_due();
      next = &climate;
    }
    if (next != nullptr) {
      run_outlook(*next);
    } else if (next_look < now) {
      look(next_look);
      looked_at_ = next_look;
    } else {
      break;
    }
  }
  for (PlaceClimate& climate : places_)
    climate.forget_before(now - kRecentSpan);
}

void App::run_outlook(PlaceClimate& climate) {
  states_changed_[place_numbers_.at(climate.place().id)] = true;
  changed_ = true;
  if (const auto event = climate.run_next(changes_)) observe_(climate.place(), *event);
}

void App::look(Instant at) {
  keeper_.look(situation_at(at), changes_);
  if (keeper_.take_urgency()) changed_ = urgent_ = true;
}

Situation App::situation_at(Instant at) const {
  Situation situation{
      .now = at, .zone = zone_, .units = garden_.units, .places = {}, .sensors = {}};
  const auto night = tonight_at(at);
  situation.places.reserve(places_.size());
  for (const PlaceClimate& climate : places_) {
    const Place& place = climate.place();
    const auto cover = covers_.find(place.id);
    const NoticeRow* told = keeper_.newest("cover", place.id);
    const bool tonight = told != nullptr && night && told->raised_at >= night->afternoon;
    situation.places.push_back(
        {.place = &place,
         .recents = &climate.recents(),
         .night = night,
         .tonight = climate.tonight(),
         .cover_layers = cover == covers_.end() ? 0 : cover->second,
         .cover_notice = tonight ? told : nullptr});
  }
  situation.sensors.reserve(listeners_.size());
  for (std::size_t i = 0; i < listeners_.size(); ++i) {
    const Listener& listener = listeners_[i];
    const Sensor& sensor = garden_.sensors[i];
    const auto heard = listener.rhythm.last_heard();
    situation.sensors.push_back(
        {.sensor = &sensor,
         .place = &places_[place_numbers_.at(sensor.place)].place(),
         .last_heard = heard.value_or(*listener.waited_for_since),
         .ever_heard = heard.has_value(),
         .usual_gap = listener.rhythm.usual_gap()});
  }
  return situation;
}

std::optional<NightSpan> App::tonight_at(Instant at) const {
  if (night_ && at >= night_->from && at < night_->to) return night_->night;
  const auto night = night_at(at, garden_.position);
  if (!night) {
    night_ = CachedNight{std::nullopt, at, at + kLookEvery};
    return std::nullopt;
  }
  const NightSpan span{.afternoon = whole_second(time_of(Moment::kAfternoon, *night)),
                       .sunset = whole_second(night->sunset),
                       .sunrise = whole_second(night->sunrise)};
  night_ = CachedNight{span, at, whole_second(end_of(*night))};
  return span;
}

Instant App::time_told_by(const Arrival& arrival) const {
  Instant newest = now_.value_or(Instant{});
  const auto [first, last] = sensors_by_topic_.equal_range(arrival.topic);
  for (auto it = first; it != last; ++it) {
    const auto intake = take_in(arrival, garden_.sensors[it->second], clock_);
    if (intake) newest = std::max(newest, intake->time);
  }
  return newest;
}

void App::handle(const Arrival& arrival) {
  taken_sequence_ = std::max(taken_sequence_, arrival.sequence);
  changed_ = true;
  const auto [first, last] = sensors_by_topic_.equal_range(arrival.topic);
  if (first == last)
    return refuse_arrival(arrival, "no sensor of the garden has this topic");
  for (auto it = first; it != last; ++it) {
    const auto intake = take_in(arrival, garden_.sensors[it->second], clock_);
    if (intake) {
      take(it->second, *intake);
    } else {
      refuse_arrival(arrival, intake.error().message);
    }
  }
  bound_memory();
}

void App::handle(const Tick&) {}

void App::handle(const Stop&) {
  changed_ = urgent_ = true;
}

void App::take(std::size_t sensor, const Intake& intake) {
  const Sensor& from = garden_.sensors[sensor];
  PlaceClimate& climate = places_[place_numbers_.at(from.place)];
  for (JudgedSample sample : intake.samples) {
    ReadingRow row{.time = intake.time, .series = series_for(sensor, sample.channel)};
    if (sample.doubt.empty()) {
      row.value = to_milli(sample.value);
      std::optional<Milli> stood;
      if (climate.take(row, stood)) {
        changes_.readings.push_back(row);
        continue;
      }
      if (stood == row.value) continue;  // said twice
      sample.doubt = "another reading stands at this second";
    }
    doubt(from, row, sample);
  }
  listeners_[sensor].rhythm.heard(intake.time);
}

void App::doubt(const Sensor& sensor, const ReadingRow& reading,
                const JudgedSample& sample) {
  changes_.doubtful.push_back({.time = reading.time,
                               .series = reading.series,
                               .value = sample.value,
                               .reason = sample.doubt});
  warn_once(
      sensor.id,
      fmt::format("{} of {} kept as doubtful", traits(sample.channel).name, sensor.id),
      fmt::format("{}, it is {}", sample.doubt, sample.value));
}

void App::refuse_arrival(const Arrival& arrival, const std::string& why) {
  warn_once(arrival.topic,
            fmt::format("message on \"{}\" not stored", escaped(arrival.topic, 120)),
            why);
}

// One line an hour for each topic or sensor and each kind of reason: what stands before
// the first particular of it (a number, a quotation).
void App::warn_once(const std::string& about, const std::string& what,
                    const std::string& why) {
  const std::string kind = why.substr(0, why.find_first_of(":\"0123456789"));
  const auto passed = repeats_.pass(about + "\n" + kind, what + ": " + why, *now_);
  if (passed) log_(LogLevel::kWarning, *passed);
}

SeriesId App::series_for(std::size_t sensor, Channel channel) {
  const auto [found, is_new] = series_.try_emplace({sensor, channel}, last_series_ + 1);
  if (!is_new) return found->second;
  const Sensor& from = garden_.sensors[sensor];
  last_series_ = found->second;
  changes_.series.push_back(
      {.id = last_series_, .sensor = from.id, .place = from.place, .channel = channel});
  places_[place_numbers_.at(from.place)].adopt_series(last_series_, channel, sensor);
  return last_series_;
}

void App::handle(const ActionRow& action) {
  last_action_ = std::max(last_action_, action.id);
  changed_ = urgent_ = true;
  if (action.verb == "cover" || action.verb == "uncover") {
    if (!place_numbers_.contains(action.place)) return;
    const int layers = action.verb == "cover" ? action.layers : 0;
    set_cover(action.place, layers, std::min(action.at, *now_));
    keeper_.covered(action.place, layers, *now_, changes_);
  } else if (action.verb == "done") {
    const NoticeRow* notice = keeper_.mark_done(action.notice, *now_, changes_);
    // Who did what a cover notice asks has put on what it asks for.
    if (notice != nullptr && notice->layers > covers_[notice->place]) {
      set_cover(notice->place, notice->layers, std::min(action.at, *now_));
    }
  }
}

void App::set_cover(const std::string& place, int layers, Instant since) {
  covers_[place] = layers;
  changes_.covers.push_back({.place = place, .since = since, .layers = layers});
}

void App::handle(const Delivered& delivered) {
  keeper_.delivered(delivered, *now_, changes_);
  changed_ = urgent_ = true;
}

// While the store cannot take any, the newest readings are worth more than the oldest.
void App::bound_memory() {
  if (changes_.readings.size() < kMost) return;
  log_(LogLevel::kError,
       fmt::format("the store has taken nothing for long: the oldest {} readings that "
                   "wait for it are let go",
                   kMost / 2));
  changes_.readings.erase(changes_.readings.begin(),
                          changes_.readings.begin() + kMost / 2);
}

bool App::wants_commit() const {
  return urgent_ || changes_.readings.size() >= kComfortable;
}

void App::commit() {
  if (!now_) return;
  for (std::size_t i = 0; i < places_.size(); ++i) {
    if (states_changed_[i]) places_[i].save_state(changes_);
  }
  changes_.now = *now_;
  changes_.marks[kMarkNow] = seconds_of(*now_);
  changes_.marks[kMarkLookedAt] = seconds_of(*looked_at_);
  changes_.marks[kMarkAction] = last_action_;
  changes_.marks[kMarkSequence] = static_cast<std::int64_t>(taken_sequence_);
  store_.commit(changes_);
  changes_ = {};
  std::fill(states_changed_.begin(), states_changed_.end(), false);
  changed_ = urgent_ = false;
  committed_sequence_ = taken_sequence_;
}

std::vector<std::pair<OutboxRow, NoticeRow>> App::take_due_deliveries() {
  if (!now_) return {};
  return keeper_.take_due(*now_);
}

}  // namespace rimeward
