#include "tools/cli/warmth_words.h"

#include <cmath>

#include <fmt/format.h>

#include "tools/cli/date_words.h"
#include "tools/cli/words.h"

namespace rimeward {
namespace {

using std::chrono::sys_days;

std::string pace_span_text(const Due& due, sys_days today) {
  if (!due.pace) return "too few readings of the last week to say";
  if (due.pace->a_day.degree_days <= 0) return "not foreseeable: no warmth lately";
  if (!due.by_pace) return "not within a year at the pace of the last week";
  return span_text(*due.by_pace, today);
}

}  // namespace

double shown_sum(DegreeDays sum, TemperatureUnit unit) {
  const Kelvins as_difference{sum.degree_days};
  return unit == TemperatureUnit::kCelsius ? as_difference.degrees
                                           : in_fahrenheit(as_difference);
}

std::string sum_unit(TemperatureUnit unit) {
  return fmt::format("{} days", degree_sign(unit));
}

std::string sum_text(std::optional<DegreeDays> sum, TemperatureUnit unit) {
  return sum ? fmt::format("{:.0f}", std::floor(shown_sum(*sum, unit))) : "-";
}

std::string stage_sum_text(const StageWarmth& stage, TemperatureUnit unit) {
  const double needed = shown_sum(DegreeDays{stage.stage->heat_sum}, unit);
  return fmt::format("{} of {:.0f}", sum_text(stage.so_far, unit), std::ceil(needed));
}

std::string pace_text(const std::optional<Pace>& pace, TemperatureUnit unit) {
  return pace ? fmt::format("{:.1f}", shown_sum(pace->a_day, unit)) : "-";
}

std::string reached_text(const StageWarmth& stage, const Context& context) {
  if (!stage.reached) return "not reached";
  return fmt::format("reached {}",
                     short_date(sys_days{context.zone.local_date(*stage.reached)},
                                sys_days{context.zone.local_date(context.now)}));
}

std::string progress_text(const BatchWarmth& warmth, const Context& context) {
  const TemperatureUnit unit = context.garden.units;
  if (warmth.stages.empty()) {
    return fmt::format("{} {} above {} {}", sum_text(warmth.since_sown.known(), unit),
                       sum_unit(unit), number(warmth.limits.base, unit),
                       degree_sign(unit));
  }
  if (const StageWarmth* next = next_stage(warmth)) {
    return fmt::format("{} {} to {}", stage_sum_text(*next, unit), sum_unit(unit),
                       next->stage->name);
  }
  const StageWarmth& last = warmth.stages.back();
  return fmt::format("{} {}", last.stage->name, reached_text(last, context));
}

std::string due_text(const Due& due, sys_days today) {
  std::string text = pace_span_text(due, today);
  const PastYears& past = due.by_past_years;
  if (past.years == 0) return text;
  return text + fmt::format("; by {} past {} {}", past.years,
                            past.years == 1 ? "year" : "years",
                            past.span ? span_text(*past.span, today)
                                      : std::string("not within a year"));
}

}  // namespace rimeward
