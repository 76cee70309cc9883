// All that is forecast and learned of one place: the outlook's engine, what covers add
// there, how it differs from other places, what an outside opinion is worth, how its
// mornings go; and what was forecast for tonight. No locking.

#pragma once

#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/base/garden.h"
#include "daemon/climate/cover.h"
#include "daemon/climate/differences.h"
#include "daemon/climate/mornings.h"
#include "daemon/climate/opinion.h"
#include "daemon/climate/outlook.h"
#include "daemon/climate/recents.h"
#include "daemon/store/store.h"

namespace rimeward {

// What a night under a cover would have come to without it, and how sure that is.
struct Reckoned {
  Celsius low;
  Kelvins error;
};

class PlaceOutlook {
 public:
  // Goes on from what the store holds; `prior` is where a new place starts. Throws
  // StoreError when what is stored cannot be read.
  PlaceOutlook(const Garden& garden, const Place& place, const Prior& prior,
               const Store& store);

  // Issued for the night under way or to come, oldest first.
  const std::vector<OutlookRow>& tonight() const { return tonight_; }
  // What the nights of the last three weeks came to, oldest first.
  const std::vector<NightRow>& nights() const { return nights_; }
  const Lifts& lifts() const { return lifts_; }
  const Differences& differences() const { return differences_; }
  const Mornings& mornings() const { return mornings_; }

  // The place's first reading of all; later calls change nothing.
  void start(Instant first_reading) { engine_.start(first_reading); }

  // When the next event (a moment, the end of a night) is due, and which moment it is.
  std::optional<SunTime> next_due() const { return engine_.next_due(); }
  std::optional<Moment> next_moment() const { return engine_.next_moment(); }

  // Runs it, and writes what came of it. `recents` is as measured under the covers of
  // `covers`. A night's low is told on only where there was no cover.
  std::optional<OutlookEvent> run_next(const Recents& recents,
                                       std::span<const CoverChange> covers,
                                       Changes& changes);

  // Another place's outlook of a moment at which this one's air was not known, in the
  // stead of its own. Nothing where the two were not compared often enough.
  std::optional<Issued> stand_in(const OutlookRow& other, Changes& changes);

  // After all places' nights have ended: what this one's and the others' lows tell of
  // each other, and of the cover.
  void compare(std::span<const PlaceOutlook* const> others);

  void save_state(Changes& changes) const;

 private:
  Issued issue(const Outlook& own, const Recents& recents, Changes& changes);
  void end_night(NightEnded& ended, const Night& night, const Recents& recents,
                 std::span<const CoverChange> covers, Changes& changes);
  void learn_opinion(const NightEnded& ended);
  void keep(OutlookRow row, Changes& changes);
  void forget_old_nights();
  // The low of the night that ended last, where it had no cover.
  std::optional<Celsius> open_low() const;
  // How far that came from the place's own outlook of the moment.
  std::optional<Kelvins> surprise_at(Moment moment) const;
  std::optional<Reckoned> reckoned_without_cover(
      std::span<const PlaceOutlook* const> others) const;
  std::optional<Reckoned> reckoned_by_low(const PlaceOutlook& other) const;
  std::optional<Reckoned> reckoned_by_surprise(const PlaceOutlook& other) const;

  const Place* place_;
  Position position_;
  NightOutlook engine_;
  Lifts lifts_;
  Differences differences_;  // of lows
  Differences surprises_;    // of how lows came beside the outlooks of the same moment
  Opinion opinion_;
  Mornings mornings_;
  std::vector<OutlookRow> tonight_;
  std::vector<NightRow> nights_;
  // Of the night that ended last: the place's own outlooks made before sunset, and before
  // a cover went on.
  std::vector<Outlook> open_outlooks_;
};

}  // namespace rimeward
