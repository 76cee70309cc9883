// The forecast of one place's night low from its own readings, night after night: what
// the lows and odds of the whole tool rest on.
//
// At four moments of each night (daemon/climate/moment.h) a small Bayesian regression
// (daemon/climate/learner.h) forecasts the fall from the temperature then
// (daemon/climate/features.h), with an 80 % range; two hours after sunrise all four learn
// from the low that came. Each starts from a prior learned on many open records, so the
// first week is already of use. The method is this project's own and was measured on open
// hourly records against persistence, the mean fall, the FAO regression
// (daemon/climate/fao_regression.h) and gradient boosting; it beat the first three by far
// and the last by a little, being at the ceiling of what a place's own temperature and
// humidity can say. What it cannot know is the coming cloud, wind and air mass.
//
// Pure and replayable: no clock, no store, no readings kept inside. The same calls give
// the same outlooks, to the last bit, whether live, rehearsed or restored. No locking.

#pragma once

#include <array>
#include <chrono>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "daemon/base/garden.h"
#include "daemon/climate/features.h"
#include "daemon/climate/learner.h"
#include "daemon/climate/moment.h"
#include "daemon/climate/prior.h"
#include "daemon/climate/recents.h"
#include "daemon/climate/sun.h"
#include "sensors/result.h"
#include "sensors/units.h"

namespace rimeward {

struct Outlook {
  std::int64_t solar_day{};  // whose evening begins the night
  Moment moment{};
  SunTime issued_at;  // only readings of then and before are in it
  SunTime sunset;
  SunTime sunrise;
  Celsius low{};                       // as forecast; never above running_low
  Celsius low10{};                     // a tenth of the lows should come below it
  Celsius low90{};                     // and a tenth above this one
  std::optional<Celsius> running_low;  // lowest from sunset to issued_at
  Celsius air{};                       // at issued_at
  std::optional<Celsius> dew_point;
  std::optional<Celsius> last_low;  // of the night before
  Kelvins spread_below{};           // a standard error towards the cold side
  Kelvins spread_above{};
  double leverage = 0.0;        // how unlike all earlier nights this one is
  bool humidity_known = false;  // without it the outlook errs about a tenth more
  // False in a place's first night: no low is known yet to hold against. Such an outlook
  // is unsure (daemon/climate/learner.h says how it is made).
  bool lows_known = true;
  FeatureArray features{};  // zero beyond feature_count(moment)
  bool operator==(const Outlook&) const = default;
};

// The date people know a night by: of the morning that ends it.
constexpr std::chrono::sys_days date_of_night(std::int64_t solar_day) {
  return std::chrono::sys_days{std::chrono::days{solar_day + 1}};
}

// The odds that the low comes to the threshold or below it. `lowest_since_sunset` is
// what was read since, for an outlook asked again later in its night: 1 once the
// threshold was met.
Odds odds_below(const Outlook& outlook, Celsius threshold,
                std::optional<Celsius> lowest_since_sunset = std::nullopt);

// How far from the low either end of the 80 % range lies.
Kelvins range_side(Kelvins spread);

// The low to show between two moments: the forecast, or the lowest reading since sunset
// once that is lower.
Celsius low_so_far(const Outlook& outlook, std::optional<Celsius> lowest_since_sunset);

// The outlook once that was read since sunset: neither its low nor its range above it.
Outlook held_to(Outlook outlook, std::optional<Celsius> lowest_since_sunset);

struct Issued {
  Outlook outlook;
  bool operator==(const Issued&) const = default;
};

struct NightEnded {
  std::chrono::sys_days night;  // date of the morning
  // Nothing when the readings leave the low in doubt: fewer than 5 of them, or more than
  // 2.6 hours without one. Nothing is learned from such a night.
  std::optional<Celsius> low;
  std::optional<Instant> low_at;  // when it was first read
  std::vector<Outlook> outlooks;  // in order of issue; may be fewer than four
  bool operator==(const NightEnded&) const = default;
};

using OutlookEvent = std::variant<Issued, NightEnded>;

// One place's outlook. Every event (a moment, the end of a night) looks only at readings
// of its own time and before, and must run before any later reading is told of. The
// caller therefore, at each turn and before it inserts a reading of time `now`:
//
//   while (engine.next_due() && *engine.next_due() < now) engine.run_next(recents);
//
// and keeps the readings of at least the 50 hours before next_due().
class NightOutlook {
 public:
  NightOutlook(Position position, const Prior& prior);

  // The place's first reading of all: moments before it are passed over. Later calls
  // change nothing.
  void start(Instant first_reading);

  // When the next event is due. Nothing before start(). Where the sun does not rise or
  // set for a while, the events go on with the next day that has a night; nothing when
  // there is none within 366 days (at the poles).
  std::optional<SunTime> next_due() const;

  // Which moment that event is; nothing: it is the end of a night.
  std::optional<Moment> next_moment() const;
  // The night under way or to come; nothing before start().
  const Night* night() const { return plan_ ? &plan_->night : nullptr; }

  // Whether a night that ends has anything to teach the four regressions. One under a
  // cover has not; its low, as it would have been without, is told to the next nights
  // all the same.
  enum class Lesson { kLearn, kPassOver };

  // Runs that one event. Nothing when it had nothing to say: a moment within half an
  // hour of sunrise or before the first reading, or without a fresh air temperature.
  std::optional<OutlookEvent> run_next(const Recents& recents,
                                       Lesson lesson = Lesson::kLearn);

  // The newest outlook of the night under way or to come; nothing after its end.
  const std::optional<Outlook>& current() const { return current_; }

  // Everything, as text; a restored engine goes on as this one would, to the last bit.
  // restore() refuses text that save() cannot have written. Position and prior are not
  // saved: with another prior, what was learned stays and now relaxes towards that one.
  std::string save() const;
  static Result<NightOutlook> restore(Position position, const Prior& prior,
                                      std::string_view text);

 private:
  struct Event {
    SunTime at;
    std::optional<Moment> moment;  // nothing: the end of the night
  };
  struct DatedLow {
    Celsius low;
    std::int64_t solar_day;
  };
  struct Plan {
    Night night;
    std::array<Event, kMoments.size() + 1> events;  // in order of time
  };
  static std::optional<Plan> plan_from(std::int64_t solar_day, Position position);

  std::optional<OutlookEvent> issue(Moment moment, const Night& night,
                                    const Recents& recents);
  OutlookEvent end_night(const Night& night, const Recents& recents, Lesson lesson);
  void learn(Celsius low);

  Position position_;
  std::array<Learner, kMoments.size()> learners_;
  std::optional<Instant> first_reading_;
  std::optional<Plan> plan_;  // of the night under way or to come
  std::size_t next_event_ = 0;
  std::vector<Outlook> issued_;  // for that night
  std::optional<Outlook> current_;
  std::optional<DatedLow> last_low_;
  std::optional<Celsius> usual_low_;
};

}  // namespace rimeward
