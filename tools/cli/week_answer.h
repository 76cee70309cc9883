// What `rimeward week` answers: the highs and lows of some days, place by place, and of
// the same days of past years beside them. Pure but for the store.
//
// Days are climatological: each runs from [garden] day_starts (09:00) to the same hour of
// the next date, as a maximum-minimum thermometer is read. A night's low belongs to the
// morning it ends, so the low of a date is that of the day which began on the date before
// (09:00 the day before to 09:00), and the high is that of the day which begins on the
// date (09:00 to 09:00 the day after).

#pragma once

#include <chrono>
#include <optional>
#include <vector>

#include "daemon/store/highs_and_lows.h"
#include "tools/cli/calendar_words.h"
#include "tools/cli/verb.h"

namespace rimeward {

// The same calendar date some years before.
struct PastDay {
  std::optional<std::chrono::sys_days> date{};  // absent: 29 February of a common year
  DayAndNight known{};
};

struct WeekRow {
  std::chrono::sys_days date{};
  const Place* place = nullptr;
  DayAndNight known{};
  std::vector<PastDay> past{};  // one year before, two years before, ...
};

struct WeekAnswer {
  Dates dates;
  std::size_t places = 0;     // how many rows a date has
  int years = 0;              // how many past ones stand beside
  std::vector<WeekRow> rows;  // every date of the span, oldest first, and every place
};

// REQUIRES: dates.from <= dates.to; 0 <= years.
WeekAnswer answer_week(const Context& context, const Dates& dates,
                       const std::vector<const Place*>& places, int years);

// True where it is the high or low of a whole day, not of a part that was read.
bool is_whole(const std::optional<HighOrLow>& extreme);

// These days less those of a past year, on average over the days of which both are known
// whole.
struct Difference {
  Kelvins mean{};
  int days = 0;  // of which both are known; 0: no mean
};

struct YearBeside {
  const Place* place = nullptr;
  int years_before = 0;
  Difference lows{};
  Difference highs{};
  int days = 0;  // that were asked for
};

// By years before, then place, in the order of the rows.
std::vector<YearBeside> years_beside(const WeekAnswer& answer);

}  // namespace rimeward
