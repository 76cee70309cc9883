// The only place for local time: days, times of day and their texts in one IANA time
// zone. Everything else in the program is UTC. Thread-safe: zones are constant once read.
//
// The rules come from the machine's own zone files (package tzdata): the file of the one
// zone is read, and the rule for the years to come at its end stands for ever.

#pragma once

#include <chrono>
#include <memory>
#include <string>
#include <string_view>

#include "sensors/result.h"
#include "sensors/units.h"

namespace rimeward {

class Zone {
 public:
  // Refuses a name that the machine does not know, with the nearest one that it does.
  static Result<Zone> named(std::string_view name);

  const std::string& name() const { return name_; }

  std::chrono::year_month_day local_date(Instant at) const;

  // Since midnight by the clock on the wall, 0 to 1439 in whole minutes.
  std::chrono::minutes minute_of_day(Instant at) const;

  // When the clock on the wall shows `since_midnight` on `date`; 24 h and more run on
  // into the days after. A time that the clock shows twice is the first of the two; one
  // that it skips is the moment it skipped, the first instant after the gap.
  Instant at(std::chrono::year_month_day date, std::chrono::minutes since_midnight) const;

  std::string time_text(Instant at) const;     // "18:03"
  std::string date_text(Instant at) const;     // "2026-04-12"
  std::string weekday_text(Instant at) const;  // "Sun"

 private:
  struct Rules;
  Zone(std::string name, std::shared_ptr<const Rules> rules);
  // What the clock on the wall shows, counted as if it were UTC.
  Instant wall_clock(Instant at) const;

  std::string name_;
  std::shared_ptr<const Rules> rules_;
};

std::string date_text(std::chrono::year_month_day date);     // "2026-04-12"
std::string weekday_text(std::chrono::year_month_day date);  // "Sun"

// The climatological days of a garden: each runs from the hour at which the
// maximum-minimum thermometer would be read to the same hour of the next date, 23, 24 or
// 25 hours. A day is named by the date on which it begins.
class DayGrid {
 public:
  // REQUIRES: `day_starts` is a time of day, 0 to 1439 minutes.
  DayGrid(Zone zone, std::chrono::minutes day_starts);

  const Zone& zone() const { return zone_; }
  std::chrono::minutes day_starts() const { return day_starts_; }

  std::chrono::year_month_day day_of(Instant at) const;
  Instant begins(std::chrono::year_month_day day) const;
  // The first instant that is no longer in `day`: that at which the next one begins.
  Instant ends(std::chrono::year_month_day day) const;

 private:
  Zone zone_;
  std::chrono::minutes day_starts_;
};

}  // namespace rimeward
