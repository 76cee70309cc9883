// One place as the daemon keeps it in memory: the last two days of readings, its cover,
// and all that is forecast for it. No locking.

#pragma once

#include <optional>
#include <span>
#include <vector>

#include "daemon/base/garden.h"
#include "daemon/climate/cover.h"
#include "daemon/climate/night_course.h"
#include "daemon/climate/recents.h"
#include "daemon/place_outlook.h"
#include "daemon/store/store.h"

namespace rimeward {

// How long readings are kept in memory: the engine looks back over a night and the day
// before it.
inline constexpr std::chrono::hours kRecentSpan{50};

class PlaceClimate {
 public:
  // Goes on from what the store held at `now`; `prior` is where a new place starts.
  // Throws StoreError when what is stored cannot be read.
  PlaceClimate(const Garden& garden, const Place& place, const Prior& prior,
               const Store& store, std::optional<Instant> now);

  const Place& place() const { return *place_; }
  const Recents& recents() const { return recents_; }
  const PlaceOutlook& outlook() const { return outlook_; }

  // The series that speaks for the place, by channel: of those that have been heard, the
  // one of the lowest `rank`.
  void adopt_series(SeriesId series, Channel channel, std::size_t rank);

  // The readings of a series that speaks for the place; nullptr: it does not.
  const Series* readings_of(SeriesId series) const;
  // A believed reading of a series that speaks for the place. False, and nothing changed,
  // when there is one of that second.
  bool take(const ReadingRow& reading);
  // It was not to be believed after all.
  void withdraw(SeriesId series, Instant time);

  int cover_layers() const { return covers_.empty() ? 0 : covers_.back().layers; }
  void set_cover(int layers, Instant since, Changes& changes);

  // When the next moment of the outlook, or the end of a night, is due.
  std::optional<SunTime> next_due() const { return outlook_.next_due(); }
  // Runs it, and writes what came of it.
  std::optional<OutlookEvent> run_next(Changes& changes) {
    return outlook_.run_next(recents_, covers_, changes);
  }
  std::optional<Issued> stand_in(const OutlookRow& other, Changes& changes) {
    return outlook_.stand_in(other, changes);
  }
  void compare(std::span<const PlaceOutlook* const> others) { outlook_.compare(others); }

  // The newest outlook of the night under way or to come, brought up to `now` by what was
  // read since; of the place without a cover. `now` must not go back.
  std::optional<NightCourse> course(Instant now) const;
  // The lowest that was read since sunset, as measured; nothing without an outlook.
  std::optional<TimedValue> lowest_since_sunset(Instant now) const;

  void save_state(Changes& changes) const { outlook_.save_state(changes); }
  void forget_before(Instant oldest);

 private:
  struct Voice {
    SeriesId series = 0;
    std::size_t rank = 0;
  };
  // What was read since sunset, kept so that a look costs no more than the new readings.
  struct SinceSunset {
    Instant sunset{};
    Instant until{};
    std::optional<TimedValue> measured{};
    std::optional<TimedValue> uncovered{};
  };
  Series* series_of(SeriesId series);
  const SinceSunset& since_sunset(const OutlookRow& row, Instant now) const;

  const Place* place_;
  PlaceOutlook outlook_;
  Recents recents_;
  CoverHistory covers_;
  std::optional<Voice> air_;
  std::optional<Voice> humidity_;
  std::optional<Voice> pressure_;
  std::optional<Voice> forecast_low_;
  mutable std::optional<SinceSunset> since_sunset_;
};

}  // namespace rimeward
