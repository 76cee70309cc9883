// The garden's clock: the board's own, held against the time that has passed since it was
// switched on, which no one can set. Cheap boards have no battery for their clock: they
// wake in 1970, or at the hour when they were switched off, and are set by the network
// minutes later. Pure: what the clocks say is passed in. Plain values, no locking.
//
// UTC throughout: summer time changes nothing here.

#pragma once

#include <chrono>
#include <optional>
#include <string>

#include "daemon/base/log.h"
#include "sensors/units.h"

namespace rimeward {

// What the board's clocks say at one moment.
struct ClockLook {
  Instant system;               // may be anything
  std::chrono::seconds uptime;  // since the board was switched on; only ever grows
  bool synchronised = false;  // the kernel says that the system's clock is set by others
  std::optional<Instant> battery_clock = {};  // of the board, where it has one
};

// How the garden's time follows from the board's uptime. A plain value, so that a restart
// of the process can go on with it: it holds as long as the board stays on.
struct Course {
  Instant zero;  // the garden's time at uptime 0, had it always run at full speed
  // From this uptime on it runs at half speed until it meets a clock that is behind:
  std::chrono::seconds slow_from{0};
  Instant goal;  // that clock's time at uptime 0; the same as `zero`: runs at full speed

  Instant time_at(std::chrono::seconds uptime) const;
  bool is_slow_at(std::chrono::seconds uptime) const;
  bool operator==(const Course&) const = default;
};

// Something to be logged.
struct Remark {
  LogLevel level;
  std::string text;
};

class GardenClock {
 public:
  enum class Trust {
    kEarned,  // the clock is believed once something speaks for it
    kGiven,   // the owner says that it is right
  };

  // `newest_stored`: the newest time that the store holds; no true clock is before it.
  // `kept`: the course before a restart, if the board has been on since; a store that is
  // begun anew begins its time anew.
  GardenClock(Trust trust, std::optional<Instant> newest_stored,
              const std::optional<Course>& kept = std::nullopt);

  // A look at the clocks, to be had once a second. What is worth saying: what is waited
  // for, that the clock is believed and why, that it was stepped. A matter that lasts is
  // said again each hour.
  //
  // The clock is believed when the owner says so, the kernel says that it is
  // synchronised, the battery clock agrees within a minute, or a sensor's own time within
  // five; for want of all these, with a warning, when it has stood for ten minutes. It is
  // never believed before the release of this program; and before what is stored only
  // where it was confirmed and is at most six hours behind.
  //
  // Once it is believed, a step forward of more than a minute is followed when it is
  // confirmed likewise or has stood for ten minutes. A step back is followed when it is
  // confirmed and at most six hours: the garden's time runs at half speed until the two
  // agree. Else the garden's time goes on by the uptime.
  [[nodiscard]] std::optional<Remark> look(const ClockLook& look);

  // A time that a sensor's fresh message told of itself when the clocks said `at`: when
  // it agrees, it speaks for the clock.
  void told(Instant time, const ClockLook& at);

  // True while a sensor's own time could decide something.
  bool wants_to_be_told() const;

  // False: nothing can be dated yet, readings are to be held.
  bool is_believed() const { return course_.has_value(); }

  // The garden's time at that uptime, when the system's clock said `system`: just that,
  // where the two agree within two seconds, so that a message that is read again after a
  // kill gets the same time. REQUIRES: is_believed().
  Instant time_at(std::chrono::seconds uptime, Instant system) const;

  // Changes seldom. REQUIRES: is_believed().
  const Course& course() const { return *course_; }

  // A clock that shows a time before this is wrong.
  Instant earliest() const { return earliest_; }

 private:
  // What was last said, and is said again when it lasts.
  enum class Matter {
    kNone,
    kTooEarly,
    kBehindStore,
    kUnconfirmed,
    kForward,
    kBack,
    kTooFarBack,
    kMakingGood,
  };

  void note_standing(const ClockLook& look);
  std::optional<Remark> wait(const ClockLook& look);
  std::optional<Remark> wait_for_store(const ClockLook& look);
  std::optional<Remark> keep_time(const ClockLook& look);
  std::optional<Remark> step_forward(const ClockLook& look, std::chrono::seconds by);
  std::optional<Remark> step_back(const ClockLook& look, std::chrono::seconds by);
  std::optional<std::string> why_confirmed(const ClockLook& look) const;
  bool has_stood(const ClockLook& look) const;
  void follow(const ClockLook& look);
  std::optional<Remark> say(Matter matter, LogLevel level, std::string text,
                            std::chrono::seconds uptime);
  std::optional<Remark> over(LogLevel level, std::string text);

  Trust trust_;
  std::optional<Instant> newest_stored_;
  Instant earliest_;
  std::optional<Course> course_;           // absent: not believed yet
  std::chrono::seconds waiting_since_{0};  // the first look

  // The system's clock is told apart by what it says of uptime 0.
  std::optional<Instant> standing_;
  std::chrono::seconds standing_since_{0};
  std::optional<Instant> vouched_for_;  // by a sensor's own time

  Matter matter_ = Matter::kNone;
  std::chrono::seconds said_at_{0};
  bool stepped_ = false;  // and not yet spoken of
};

}  // namespace rimeward
