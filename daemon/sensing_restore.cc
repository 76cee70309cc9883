// How a Sensing goes on from what the store holds: marks, facts, series, the readings of
// the last two days and the newest doubts.

#include <algorithm>
#include <chrono>

#include "daemon/sensing.h"
#include "daemon/store/marks.h"

namespace rimeward {
namespace {

Instant instant_of(std::int64_t seconds) {
  return Instant{std::chrono::seconds{seconds}};
}

}  // namespace

Sensing::Sensing(const Garden& garden, std::vector<PlaceClimate>& places,
                 SeasonBook& season, const Store& store, std::optional<Instant> now,
                 ClockSource clock, LogSink log)
    : garden_(garden),
      places_(places),
      season_(season),
      clock_(clock),
      log_(std::move(log)),
      corrections_(store),
      heard_topics_(store) {
  restore_listeners(store);
  restore_tracks(store);
  if (now) restore_readings(store, *now);
  restore_health(store);
}

void Sensing::restore_listeners(const Store& store) {
  std::map<std::string_view, std::size_t> numbers;
  listeners_.resize(garden_.sensors.size());
  for (std::size_t i = 0; i < garden_.sensors.size(); ++i) {
    const Sensor& sensor = garden_.sensors[i];
    Listener& listener = listeners_[i];
    numbers[sensor.id] = i;
    sensors_by_topic_.emplace(sensor.topic, i);
    const auto place = std::ranges::find(garden_.places, sensor.place, &Place::id);
    listener.place = static_cast<std::size_t>(place - garden_.places.begin());
    const auto time_in = [&](const char* mark) -> std::optional<Instant> {
      const auto value = store.mark(mark + sensor.id);
      return value && *value != 0 ? std::optional(instant_of(*value)) : std::nullopt;
    };
    listener.waited_for_since = time_in(kMarkWaitedFor);
    listener.checking_until = time_in(kMarkChecking);
    listener.packet = store.mark(kMarkPacket + sensor.id);
    listener.clock_wrong =
        static_cast<int>(store.mark(kMarkClockWrong + sensor.id).value_or(0));
  }
  for (const FactRow& row : store.facts()) {
    const auto number = numbers.find(row.sensor);
    if (number != numbers.end()) {
      listeners_[number->second].facts.emplace(row.name, row.value);
    }
  }
}

void Sensing::restore_tracks(const Store& store) {
  std::map<std::pair<std::string, std::string>, std::size_t> numbers;
  for (std::size_t i = 0; i < garden_.sensors.size(); ++i) {
    numbers[{garden_.sensors[i].id, garden_.sensors[i].place}] = i;
  }
  for (const SeriesRow& row : store.all_series()) {
    last_series_ = std::max(last_series_, row.id);
    const auto number = numbers.find({row.sensor, row.place});
    if (number == numbers.end()) continue;  // no longer in the settings file
    Track& track = add_track(row.id, number->second, row.channel);
    if (const auto latest = store.latest(row.id)) track.newest = latest->time;
  }
}

void Sensing::restore_readings(const Store& store, Instant now) {
  std::map<SeriesId, Track*> tracks;
  for (auto& [key, track] : tracks_)
    tracks[track.series] = &track;
  store.each_reading(now - kRecentSpan, Instant::max(), [&](const ReadingRow& row) {
    const auto found = tracks.find(row.series);
    if (found == tracks.end()) return;
    remember(*found->second, row);
    if (found->second->judge) found->second->judge->restore_believed(row.time, row.value);
  });
  for (const DoubtfulRow& row : store.doubtful(now - kRecentSpan, Instant::max())) {
    const auto found = tracks.find(row.series);
    if (found == tracks.end() || !found->second->judge) continue;
    Judge& judge = *found->second->judge;
    if (row.doubt == Doubt::kJump) judge.restore_held(row.time, to_milli(row.value));
    if (row.doubt == Doubt::kStuck) judge.restore_stuck(row.time, to_milli(row.value));
  }
}

void Sensing::restore_health(const Store& store) {
  for (const auto& [key, track] : tracks_) {
    Health& health = listeners_[track.sensor].health;
    const auto latest = store.latest(track.series);
    const auto doubtful = store.latest_doubtful(track.series, Health::kMessages);
    for (const DoubtfulRow& row : doubtful) {
      health.doubted(row.time, track.channel, row.value, row.doubt);
    }
    if (!latest) continue;
    const Instant from = latest->time - Rhythm::kSpan;
    for (const Instant at : store.latest_times(track.series, Rhythm::kReadings, from)) {
      if (at == latest->time) continue;
      health.believed(at, track.channel, 0);
    }
    health.believed(latest->time, track.channel, from_milli(latest->value));
  }
}

}  // namespace rimeward
