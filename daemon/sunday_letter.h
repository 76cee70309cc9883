// The Sunday letter: the week's highs and lows, how good its outlooks were, what is open,
// what keeps quiet and what fails. Pure but for the store.

#pragma once

#include "daemon/base/week_chart.h"
#include "daemon/letter_sources.h"

namespace rimeward {

// Of the seven climatological days that were over by `from.at`.
LetterText sunday_letter(const LetterSources& from);

// The same days, of each place that has readings in them.
WeekChart chart_of_week(const LetterSources& from);

}  // namespace rimeward
