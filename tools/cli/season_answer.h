// What `rimeward season` answers: frosts, extremes, chill and warmth of each place,
// season by season, put together from the stored days and hours and from what was noted
// of days without (daemon/store/highs_and_lows.h). Pure but for the store.
//
// Nights are those of climatological days: a night's low is the lowest from [garden]
// day_starts of the date before until that hour of its date, a day's high the highest
// from that hour of its date on. Warmth, chill and hours of frost are sums over the means
// of UTC clock hours, with short gaps bridged as daemon/climate/hour_book.h does.

#pragma once

#include <chrono>
#include <optional>
#include <vector>

#include "daemon/base/garden.h"
#include "daemon/base/quantities.h"
#include "daemon/climate/frost.h"
#include "tools/cli/verb.h"

namespace rimeward {

// The bases that degree days are told above: growth of hardy and of tender plants.
inline constexpr Celsius kHardyBase{5};
inline constexpr Celsius kTenderBase{10};

struct DatedAir {
  Celsius air{};
  std::chrono::sys_days date{};  // of the morning, or of the day; the first of equals
  bool operator==(const DatedAir&) const = default;
};

struct FrostDate {
  std::chrono::sys_days night{};
  // Every night of the 30 on its summer side, as far as they are over, is known: none of
  // them is a frost that was not read.
  bool is_sure = true;
  bool operator==(const FrostDate&) const = default;
};

// The nights before midsummer, or from it on, as far as they are over: without a frost,
// there was none only if none is missing or was read in part.
struct HalfSeason {
  int known = 0;
  int unknown = 0;
};

// Of a winter, two months to either side of a season's beginning; absent: no hour of it
// is known.
struct Chill {
  int chill_hours = 0;
  int missing = 0;  // hours
  bool operator==(const Chill&) const = default;
};

// What grows in the course of a season.
struct SeasonSums {
  int frost_nights = 0;
  int frost_hours = 0;
  DegreeDays hardy{};   // above kHardyBase, since the season began
  DegreeDays tender{};  // above kTenderBase
  bool operator==(const SeasonSums&) const = default;
};

// One season of one place, as far as it has gone.
struct PlaceSeason {
  const Place* place = nullptr;  // as in the garden
  std::chrono::year year{};
  bool is_under_way = false;
  // False: known by notes of its highs and lows alone. Then sums tell of frost nights
  // only.
  bool has_hours = true;
  SeasonSums sums{};
  std::optional<SeasonSums> by_today{};  // to the same date and hour; of past seasons
  std::optional<FrostDate> last_of_spring{};
  std::optional<FrostDate> first_of_autumn{};
  HalfSeason spring{};
  HalfSeason autumn{};
  std::optional<DatedAir> coldest{};    // night
  std::optional<DatedAir> warmest{};    // day
  std::optional<Chill> chill{};         // of the winter that the season began in
  std::optional<Chill> coming_chill{};  // of the next winter, once that has begun
  int nights_in_part = 0;  // without a frost read: hours are missing in which one may be
  int nights_missing = 0;  // the same, with fewer than half the hours
  int hours_missing = 0;   // that neither were read nor could be bridged
};

struct SeasonAnswer {
  bool is_southern = false;
  std::chrono::sys_days today{};
  // By place in the order asked for, then the newest season first; only of seasons that
  // have a reading or a note.
  std::vector<PlaceSeason> rows{};
};

// Of one season where `only` is given, else of every season in the store.
SeasonAnswer answer_season(const Context& context,
                           const std::vector<const Place*>& places,
                           std::optional<std::chrono::year> only);

// The date after which a frost came in one spring of ten, as far as at least ten springs
// of a place tell. In the season of `year`.
struct FrostRisk {
  std::chrono::sys_days date{};
  int springs = 0;
};
std::optional<FrostRisk> frost_risk(const SeasonAnswer& answer, const Place& place,
                                    std::chrono::year year);

}  // namespace rimeward
