// What a channel came to in some places over a span, from the store: readings where the
// span is short, hours or days where it is long, so that the cost follows the span and
// not the years in the store. Reads the store; nothing else.

#pragma once

#include <optional>
#include <vector>

#include "daemon/base/garden.h"
#include "tools/cli/chart/chart_question.h"

namespace rimeward {

enum class ChartStep { kReadings, kHours, kDays };

// Readings up to three days, hours up to sixty, days (as week has them) beyond. The hours
// by which a clock changes are allowed for.
ChartStep chart_step(const Chart::Span& span);

struct ChartExtreme {
  double value = 0;  // in the unit that is shown
  Instant at{};
};

struct ChartCurve {
  // At most some 600 points; with readings two or more close ones may share one.
  std::vector<std::vector<Chart::Point>> pieces{};
  // Over the span, the first of equals. Absent: no readings.
  std::optional<ChartExtreme> low{};
  std::optional<ChartExtreme> high{};
  // Where readings are missing: within the span, in order, its edges counted. Empty where
  // there are no readings at all.
  std::vector<Chart::Span> gaps{};
};

// Of each place of the question, in that order. A place's sensors speak in the order in
// which daemon/store/place_hours.h lets them. Temperatures are told in `unit`.
//
// Readings are missing where the next one is later than three usual intervals, than half
// as long again as 19 intervals in 20 (a sensor that speaks only of changes is quiet at
// times), and than 20 minutes; hours and days, where one holds no reading. Hours and days
// that lie partly before the span are left out, and those partly after it, but for the
// one under way.
std::vector<ChartCurve> chart_curves(const Context& context,
                                     const ChartQuestion& question, TemperatureUnit unit);

}  // namespace rimeward
