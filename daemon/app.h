// The whole daemon without threads: messages and the time in, rows and notices out.
//
// turn(message, now) is everything that can happen. It reads no clock and touches no
// network; what must outlive a restart is in the store. The daemon feeds it from MQTT and
// a clock, a rehearsal from a file, a test from a list, and the same messages at the same
// times give the same rows and notices, to the letter:
//
//  * Whatever falls due by time (a moment of an outlook, a look at the rules every five
//    minutes) is done at its own time, in order, before the message that first comes
//    after it is looked at. It does not matter how often, or whether, ticks come between.
//  * What is not yet committed is lost with the process, and comes again from the spool:
//    the store knows the sequence number of the last arrival that it holds.
//
// One thread owns an App and its store. Throws StoreError out of the constructor and
// commit() only.

#pragma once

#include <chrono>
#include <cstdint>
#include <functional>
#include <map>
#include <optional>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "daemon/base/garden.h"
#include "daemon/base/log.h"
#include "daemon/base/zone.h"
#include "daemon/intake.h"
#include "daemon/letters.h"
#include "daemon/message.h"
#include "daemon/notice/keeper.h"
#include "daemon/notice/wording.h"
#include "daemon/place_climate.h"
#include "daemon/season_book.h"
#include "daemon/sensing.h"
#include "daemon/store/store.h"

namespace rimeward {

struct AppOptions {
  ClockSource clock = ClockSource::kSystem;
  LogSink log = [](LogLevel, const std::string&) {};
  // Told of every outlook issued and every night that ended; rehearsals score them.
  std::function<void(const Place&, const OutlookEvent&)> observe =
      [](const Place&, const OutlookEvent&) {};
  // Where a new place's outlook starts, instead of the shipped priors.
  std::optional<Prior> prior = std::nullopt;
};

// The rules look at the garden at whole multiples of this.
inline constexpr std::chrono::minutes kLookEvery{5};

class App {
 public:
  // Goes on from where `store` stands. `garden` and `store` must outlive the App.
  App(const Garden& garden, const Zone& zone, Store& store, AppOptions options);

  // `now` is the garden's clock; it never goes back here, whatever is passed.
  void turn(const Message& message, Instant now);

  // The garden's time when going by the readings: the newest believable one so far, the
  // arrival's own included.
  Instant time_told_by(const Arrival& arrival) const;
  // The newest time that a fresh message tells of itself, believable or not; absent: it
  // is of no sensor, or tells none.
  std::optional<Instant> told_time(const Arrival& arrival) const {
    return sensing_.told_time(arrival);
  }
  // The time of the last turn; nothing before the first one ever.
  std::optional<Instant> now() const { return now_; }

  // True when something should be committed at once: a notice, an action, a stop, or more
  // than a comfortable number of rows.
  bool wants_commit() const;
  bool has_changes() const { return changed_; }
  // Writes all that turns have brought since the last commit. After a StoreError nothing
  // is lost: the next commit tries again.
  void commit();

  // The last arrival that the store holds: all up to it may leave the spool.
  std::uint64_t committed_sequence() const { return committed_sequence_; }
  // The last of the gardener's actions taken.
  std::int64_t last_action() const { return last_action_; }
  // True once the store holds what did not come through here, an import: all is then
  // committed, and an App made anew from the store is to take over.
  bool wants_to_start_over() const { return start_over_ && !changed_; }

  // What is to be delivered now. To be called right after a successful commit().
  std::vector<Parcel> take_due_deliveries();
  bool has_due_deliveries() const { return now_ && keeper_.has_due(*now_); }

  // That the store failed has been told, and not yet that it is well.
  bool tells_of_store() const;
  // The store failed for so long that some of what waited for it was let go; until the
  // App is told that it is well.
  bool has_let_go() const { return has_let_go_; }

  const Wording& wording() const { return wording_; }
  // Of each place, as it now follows from the settings and the batches.
  std::vector<KeepAbove> keep_aboves() const;

 private:
  void advance(Instant now);
  std::optional<SunTime> next_outlook() const;
  void run_outlooks(SunTime due);
  void stand_in(std::size_t number, SunTime due);
  void compare_nights(std::span<const std::size_t> ended);
  void look(Instant at);
  Situation situation_at(Instant at) const;
  void note_keep_above();
  PlaceView view_of(const PlaceClimate& climate, Instant at) const;
  std::optional<StandIn> stand_in_for(const PlaceClimate& climate, Instant at) const;
  std::optional<OpeningRow> opening_of(const std::string& place, Instant at) const;
  std::optional<NightSpan> tonight_at(Instant at) const;
  std::optional<DaySpan> day_at(Instant at) const;

  void handle(const Arrival& arrival);
  void handle(const Dropped& dropped);
  void handle(const Tick& tick);
  void handle(const ActionRow& action);
  void handle(const Delivered& delivered);
  void handle(const StoreState& state);
  void handle(const Stop& stop);
  void take_command(const Arrival& arrival);
  void obey(const ActionRow& action);
  void set_cover(const std::string& place, int layers, Instant since);
  void set_opening(const std::string& place, bool open, Instant since);
  void mark_done(const ActionRow& action);
  void mute(const ActionRow& action);
  void write_letters();
  void bound_memory();

  const Garden& garden_;
  const Zone& zone_;
  const Wording wording_;
  Store& store_;
  ClockSource clock_;
  LogSink log_;
  std::function<void(const Place&, const OutlookEvent&)> observe_;

  std::vector<PlaceClimate> places_;  // as in the settings file
  std::map<std::string, std::size_t> place_numbers_;
  SeasonBook season_;
  Sensing sensing_;
  Keeper keeper_;
  Letters letters_;
  std::map<std::string, OpeningRow> openings_;  // by place
  std::optional<StoreTrouble> store_trouble_;   // the latest

  std::optional<Instant> now_;
  std::optional<Instant> looked_at_;  // the last look at the rules
  std::uint64_t taken_sequence_ = 0;
  std::uint64_t committed_sequence_ = 0;
  std::int64_t last_action_ = 0;
  std::map<std::string, std::int64_t> keep_above_marks_;  // as the store has them

  Changes changes_;
  std::vector<bool> states_changed_;  // by place: the engine's state is to be saved
  bool changed_ = false;
  bool urgent_ = false;
  bool start_over_ = false;
  bool has_let_go_ = false;

  // The night of the last look, and until when it stays that: most looks want the same.
  struct CachedNight {
    std::optional<NightSpan> night;
    Instant from;
    Instant to;
  };
  mutable std::optional<CachedNight> night_;
  struct CachedDay {
    std::int64_t solar_day = 0;
    std::optional<DaySpan> day;
  };
  mutable std::optional<CachedDay> day_;
};

}  // namespace rimeward
