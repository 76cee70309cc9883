// From messages to believed readings: which sensor a message is of, what it means, what
// of it is to be believed, and what is to be remembered about its sensor.
//
// One thread, the App's. What must outlive a restart goes into Changes; a Sensing made on
// the store goes on to the letter as the one that was killed.

#pragma once

#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <unordered_map>
#include <utility>
#include <vector>

#include "daemon/base/garden.h"
#include "daemon/base/log.h"
#include "daemon/climate/judge.h"
#include "daemon/corrections.h"
#include "daemon/health.h"
#include "daemon/heard_topics.h"
#include "daemon/intake.h"
#include "daemon/message.h"
#include "daemon/place_climate.h"
#include "daemon/season_book.h"
#include "daemon/store/store.h"

namespace rimeward {

class Sensing {
 public:
  // Goes on from where `store` stood at `now`; nothing before the first message ever.
  // What is believed from now on goes to `places`, in the garden's order, and `season`;
  // they and `garden` must outlive this.
  Sensing(const Garden& garden, std::vector<PlaceClimate>& places, SeasonBook& season,
          const Store& store, std::optional<Instant> now, ClockSource clock, LogSink log);

  // `now` is the garden's time, which never goes back.
  void take(const Arrival& arrival, Instant now, Changes& changes);
  void take(const Dropped& dropped, Instant now, Changes& changes);
  // check, correct and uncorrect; others are passed over.
  void take(const ActionRow& action, Instant now, Changes& changes);

  // Sensors that were never heard are waited for from here on.
  void start_waiting(Instant now, Changes& changes);
  void forget_before(Instant oldest);

  // The newest time that a fresh message tells of itself; absent: it is of no sensor, or
  // tells none. Not judged.
  std::optional<Instant> told_time(const Arrival& arrival) const;
  // The newest believable time that it tells, by the readings' clock.
  std::optional<Instant> believable_time(const Arrival& arrival,
                                         std::optional<Instant> now) const;

  std::vector<SensorView> views(Instant now) const;

 private:
  // One series: a channel of a sensor.
  struct Track {
    SeriesId series = 0;
    std::size_t sensor = 0;
    Channel channel{};
    std::optional<Judge> judge{};     // for channels that can be judged
    std::optional<Instant> newest{};  // of the believed
  };
  struct Listener {
    std::size_t place = 0;
    Facts facts;
    Health health;
    std::optional<Instant> waited_for_since;
    std::optional<Instant> checking_until;
    std::optional<std::int64_t> packet;  // as in its mark
    int clock_wrong = 0;                 // times in a row
  };
  struct Match {
    std::size_t sensor;
    std::string_view below;
  };

  void restore_listeners(const Store& store);
  void restore_tracks(const Store& store);
  void restore_readings(const Store& store, Instant now);
  void restore_health(const Store& store);

  std::vector<Match> matches(const Arrival& arrival) const;
  bool spans(std::size_t sensor) const;
  SensorMessage message_of(const Match& match, const Arrival& arrival) const;
  Dating dating_for(std::size_t sensor, std::optional<Instant> now) const;

  bool take_message(const Match& match, const Arrival& arrival, Changes& changes);
  bool is_repeat(std::size_t sensor, const Intake& intake, Changes& changes);
  void learn(std::size_t sensor, const Facts& facts, Changes& changes);
  void note_clock(std::size_t sensor, Doubt clock, Changes& changes);
  void note_heard(Changes& changes);
  void wait_for(std::size_t sensor, Instant since, Changes& changes);
  void take_sample(std::size_t sensor, const DatedSample& sample, Changes& changes);
  void settle(Track& track, Instant time, Milli value, double said, Changes& changes);
  void believe(Track& track, const ReadingRow& row);
  void remember(Track& track, const ReadingRow& row);
  void believe_again(Track& track, const Judge::Held& held, Changes& changes);
  void withdraw(Track& track, const Judge::Withdrawn& gone, Changes& changes);
  void doubt(Track& track, Instant time, double said, Doubt doubt, const std::string& why,
             Changes& changes);
  void count(std::size_t sensor, std::optional<Channel> channel, Doubt doubt,
             std::int64_t number, Instant at, Changes& changes) const;
  void warn(const std::string& about, const std::string& what, const std::string& why);

  // Does something to each place in which a channel of a sensor counts.
  template <class Act>
  void in_its_places(std::size_t sensor, Channel channel, const Act& act);
  std::size_t rank_in(const PlaceClimate& place, std::size_t sensor) const;
  Track& track_of(std::size_t sensor, Channel channel, Changes& changes);
  Track& add_track(SeriesId series, std::size_t sensor, Channel channel);
  std::optional<Milli> reading_at(const Track& track, Instant time) const;
  std::vector<const Judge*> others(const Track& track) const;

  const Garden& garden_;
  std::vector<PlaceClimate>& places_;
  SeasonBook& season_;
  ClockSource clock_;
  LogSink log_;
  RepeatLimit repeats_;
  std::unordered_multimap<std::string_view, std::size_t> sensors_by_topic_;
  std::vector<Listener> listeners_;  // by sensor, as in the settings file
  std::map<std::pair<std::size_t, Channel>, Track> tracks_;
  SeriesId last_series_ = 0;
  Corrections corrections_;
  HeardTopics heard_topics_;
  std::optional<Instant> heard_at_;  // any sensor, in this life of the process
  Instant now_{};                    // of the message being taken
};

}  // namespace rimeward
