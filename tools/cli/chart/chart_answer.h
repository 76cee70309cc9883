// The answer of `rimeward chart`: the Chart, and beside it what is told in words. Reads
// the store and the context; no clock.

#pragma once

#include <vector>

#include "tools/cli/chart/chart_curves.h"
#include "tools/cli/chart/chart_question.h"

namespace rimeward {

struct ChartAnswer {
  // With a line for each place of the question. Nights are left out where it is longer
  // than 16 days: they could not be told apart.
  Chart chart;
  ChartStep step = ChartStep::kReadings;
  ChartQuestion question;
  std::vector<ChartCurve> curves;  // beside chart.lines
  std::vector<NoticeRow> notices;  // beside chart.marks; letters are no notices
};

// Temperatures in `unit`.
ChartAnswer answer_chart(const Context& context, const ChartQuestion& question,
                         TemperatureUnit unit);

// From sunset to sunrise, as far as they lie in the span; a polar night is one, and the
// midnight sun has none.
std::vector<Chart::Span> chart_nights(const Chart::Span& span, Position position);

// Whether any of its places has a reading.
bool has_readings(const ChartAnswer& answer);

}  // namespace rimeward
