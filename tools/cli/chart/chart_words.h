// What a chart tells in words below its plot: lows and highs with their times, missing
// readings, notices. Pure.

#pragma once

#include <string>

#include "daemon/base/zone.h"
#include "tools/cli/chart/chart_answer.h"
#include "tools/cli/screen.h"

namespace rimeward {

// "Sun 06:35" within a week, "12 Apr 06:35" within a year, "2026-04-12" beyond, and
// "06:35" where the chart is of one date.
std::string chart_time(Instant at, const Chart::Span& span, const Zone& zone);

// "no readings from Sat 03:10 to 05:40, since Sun 15:00"; of more than three gaps the
// longest. Empty where there are none.
std::string gap_words(const ChartCurve& curve, const Chart::Span& span, const Zone& zone);

// A line for a single place, else a table with a row for each, by its letter.
std::string extremes_text(const ChartAnswer& answer, const Zone& zone,
                          const std::vector<std::string>& letters, const Screen& screen);

// A line a notice, the newest if there are many. Empty when there are none.
std::string notices_text(const ChartAnswer& answer, const Zone& zone,
                         const Screen& screen);

}  // namespace rimeward
