// One place's climate as the daemon follows it: the last two days of readings, the
// outlook's engine, what was forecast for tonight. No locking.

#pragma once

#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "daemon/base/garden.h"
#include "daemon/climate/outlook.h"
#include "daemon/climate/recents.h"
#include "daemon/store/store.h"

namespace rimeward {

class PlaceClimate {
 public:
  // Goes on from what the store holds; `prior` is where a new place starts. Throws
  // StoreError when what is stored cannot be read.
  PlaceClimate(const Garden& garden, const Place& place, const Prior& prior,
               const Store& store);

  const Place& place() const { return *place_; }
  const Recents& recents() const { return recents_; }
  const std::vector<OutlookRow>& tonight() const { return tonight_; }
  // What the nights of the last three weeks came to, oldest first.
  const std::vector<NightRow>& nights() const { return nights_; }

  // The series that speaks for the place, by channel: the first in the settings file that
  // has been heard. `rank` is the sensor's place in the file.
  void adopt_series(SeriesId series, Channel channel, std::size_t rank);

  // The readings of a series that speaks for the place; nullptr: it does not.
  const Series* readings_of(SeriesId series) const;
  // A believed reading of a series that speaks for the place. False, and nothing changed,
  // when there is one of that second.
  bool take(const ReadingRow& reading);
  // It was not to be believed after all.
  void withdraw(SeriesId series, Instant time);

  // When the next moment of the outlook is due.
  std::optional<SunTime> next_due() const { return engine_.next_due(); }
  // Runs it, and writes what came of it.
  std::optional<OutlookEvent> run_next(Changes& changes);

  void save_state(Changes& changes) const;
  void forget_before(Instant oldest) { recents_.forget_before(oldest); }

 private:
  struct Voice {
    SeriesId series = 0;
    std::size_t rank = 0;
  };
  Series* series_of(SeriesId series);
  void forget_old_nights();

  const Place* place_;
  NightOutlook engine_;
  Recents recents_;
  std::optional<Voice> air_;
  std::optional<Voice> humidity_;
  std::vector<OutlookRow> tonight_;  // oldest first, of one night
  std::vector<NightRow> nights_;
};

// How long readings are kept in memory: the engine looks back over a night and the day
// before it.
inline constexpr std::chrono::hours kRecentSpan{50};

}  // namespace rimeward
