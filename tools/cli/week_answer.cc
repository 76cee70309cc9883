#include "tools/cli/week_answer.h"

#include "daemon/climate/coverage.h"

namespace rimeward {
namespace {

using std::chrono::days;
using std::chrono::sys_days;
using std::chrono::year_month_day;
using std::chrono::years;

std::optional<sys_days> years_before(sys_days date, int count) {
  const year_month_day moved = year_month_day{date} - years{count};
  return moved.ok() ? std::optional(sys_days{moved}) : std::nullopt;
}

// The dates from which and to which those some years before a span lie.
Dates span_before(const Dates& dates, int count) {
  const auto moved = [count](sys_days date) {
    const year_month_day there = year_month_day{date} - years{count};
    return there.ok() ? sys_days{there} : sys_days{there.year() / there.month() / 28};
  };
  return {moved(dates.from), moved(dates.to)};
}

// Of each place of the garden, this year's first, then that of each year before.
std::vector<std::vector<HighsAndLows>> all_known(const Context& context,
                                                 const Dates& dates, int count) {
  const DayGrid grid(context.zone, context.garden.day_starts);
  std::vector<std::vector<HighsAndLows>> known;
  for (int year = 0; year <= count; ++year) {
    const Dates there = span_before(dates, year);
    known.push_back(
        highs_and_lows(context.store, context.garden, there.from, there.to, grid));
  }
  return known;
}

DayAndNight on_date(const HighsAndLows& known, sys_days date) {
  const auto found = known.find(date);
  return found == known.end() ? DayAndNight{} : found->second;
}

void add(Difference& sum, const std::optional<HighOrLow>& now,
         const std::optional<HighOrLow>& then) {
  if (!is_whole(now) || !is_whole(then)) return;
  sum.mean.degrees += now->air.degrees - then->air.degrees;
  ++sum.days;
}

void divide(Difference& sum) {
  if (sum.days > 0) sum.mean.degrees /= sum.days;
}

}  // namespace

WeekAnswer answer_week(const Context& context, const Dates& dates,
                       const std::vector<const Place*>& places, int years) {
  const auto known = all_known(context, dates, years);
  WeekAnswer answer{.dates = dates, .places = places.size(), .years = years, .rows = {}};
  for (sys_days date = dates.from; date <= dates.to; date += days{1}) {
    for (const Place* const place : places) {
      const auto number = static_cast<std::size_t>(place - context.garden.places.data());
      WeekRow row{.date = date, .place = place};
      row.known = on_date(known.front()[number], date);
      for (int year = 1; year <= years; ++year) {
        PastDay past{.date = years_before(date, year)};
        const auto& then = known[static_cast<std::size_t>(year)][number];
        if (past.date) past.known = on_date(then, *past.date);
        row.past.push_back(past);
      }
      answer.rows.push_back(std::move(row));
    }
  }
  return answer;
}

bool is_whole(const std::optional<HighOrLow>& extreme) {
  return extreme && (extreme->is_noted || extreme->hours >= kWholeDay);
}

std::vector<YearBeside> years_beside(const WeekAnswer& answer) {
  std::vector<YearBeside> all;
  for (int year = 1; year <= answer.years; ++year) {
    for (std::size_t place = 0; place < answer.places; ++place) {
      YearBeside one{.place = answer.rows[place].place, .years_before = year};
      for (std::size_t i = place; i < answer.rows.size(); i += answer.places) {
        const WeekRow& row = answer.rows[i];
        const DayAndNight& then = row.past[static_cast<std::size_t>(year) - 1].known;
        add(one.lows, row.known.low, then.low);
        add(one.highs, row.known.high, then.high);
        ++one.days;
      }
      divide(one.lows);
      divide(one.highs);
      all.push_back(one);
    }
  }
  return all;
}

}  // namespace rimeward
