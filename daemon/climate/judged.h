// The readings of one series that were judged lately, with what was decided of each: all
// that a judge remembers. Plain values, no locking, no clock.
//
// What it holds is a pure function of what was put in, whatever the order: the newest so
// many, and no older than a day before the newest.

#pragma once

#include <chrono>
#include <cstddef>
#include <cstdint>
#include <deque>
#include <optional>

#include "sensors/channel.h"
#include "sensors/units.h"

namespace rimeward {

struct JudgedReading {
  enum class State : std::int8_t { kBelieved, kHeld, kStuck };
  Instant time;
  Milli value = 0;
  State state = State::kBelieved;
};

class JudgedReadings {
 public:
  // Eight hours of a reading a minute.
  static constexpr std::size_t kMost = 480;
  static constexpr std::chrono::hours kOldest{24};
  // Readings that lie further apart say nothing about each other.
  static constexpr std::chrono::hours kReach{3};

  using Index = std::size_t;

  // Puts it in its place in time and says where; what is too old beside it goes. There
  // may be one too many, or one too old, until trim(). REQUIRES: none of that second.
  Index insert(const JudgedReading& reading);
  void trim();
  std::optional<JudgedReading> at(Instant time) const;
  void forget_before(Instant oldest);

  std::size_t size() const { return readings_.size(); }
  const JudgedReading& operator[](Index index) const { return readings_[index]; }
  void set_state(Index index, JudgedReading::State state) {
    readings_[index].state = state;
  }
  bool is_believed(Index index) const {
    return readings_[index].state == JudgedReading::State::kBelieved;
  }
  bool is_held(Index index) const {
    return readings_[index].state == JudgedReading::State::kHeld;
  }

  // The nearest believed reading before or after that one and within reach of it.
  std::optional<Index> believed_before(Index index) const;
  std::optional<Index> believed_after(Index index) const;
  // The same, of the readings that are not held: what the sensor kept saying.
  std::optional<Index> said_before(Index index) const;
  std::optional<Index> said_after(Index index) const;

  // The median absolute step of the last 16 believed readings not after that one; 0 while
  // there are too few to tell. The reading itself is left out.
  Milli noise_before(Index index) const;
  // The smallest step of the believed readings that is no odd one out; nothing while all
  // are the same.
  std::optional<Milli> smallest_step() const;

  // By how much the believed readings rose from the one that stood at `from` to the one
  // that stood at `to`; nothing where none is known to lie between.
  std::optional<Milli> rise(Instant from, Instant to) const;
  // Between the lowest and the highest believed from the one that stood at `from` to
  // `to`. The newest is left out: nothing has confirmed it yet.
  Milli moved(Instant from, Instant to) const;

 private:
  Index first_after(Instant time) const;
  // The newest believed not after `time` and at most `tolerance` older.
  std::optional<Index> standing_at(Instant time, std::chrono::seconds tolerance) const;

  std::deque<JudgedReading> readings_;  // oldest first
};

}  // namespace rimeward
