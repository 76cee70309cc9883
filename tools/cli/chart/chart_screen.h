// How a chart is laid out on the terminal: the scale of its values, where its times
// stand, and the letters by which its places are told apart. Pure.

#pragma once

#include <cstddef>
#include <string>
#include <vector>

#include "daemon/base/zone.h"
#include "tools/cli/chart/chart_answer.h"
#include "tools/cli/screen.h"

namespace rimeward {

// Values on rows of text, the same difference from each row to the next. Ticks are the
// rows of round values. In the unit of the chart.
struct ValueScale {
  double step = 1;        // from one tick to the next
  int rows_per_step = 1;  // rows from one tick to the next
  int top = 1;            // the uppermost row and the lowest, counted upwards from the
  int bottom = 0;         // row of 0

  std::size_t rows() const { return static_cast<std::size_t>(top - bottom) + 1; }
  bool holds(double value) const;
  // 0: the uppermost. REQUIRES: holds(value).
  std::size_t row_of(double value) const;
  // In quarters of a row, the dots of a BrailleCanvas.
  int dot_of(double value) const;
  // Of a row with a tick "15", or "0.5" where the steps are finer than one; of another
  // nothing.
  std::optional<std::string> label(std::size_t row) const;
};

// Holds `low` to `high` on at most 20 rows, with ticks of 1, 2 or 5 tens; never shows
// less than `least`, so that the sensor's last digit does not look like weather.
// REQUIRES: low <= high, both finite; least > 0.
ValueScale scale_for(double low, double high, double least);

// One for each name: its first letter, else another of its own, else any that is left, as
// capitals; then digits; then "?". Told apart as long as there are no more than 36.
std::vector<std::string> letters_for(const std::vector<std::string>& names);

struct ScreenLayout {
  const ChartAnswer& answer;
  const Zone& zone;
  const Screen& screen;
  ValueScale scale;
  std::vector<std::string> letters;  // beside the lines; empty ones for a single place
  std::size_t left = 0;              // columns before the axis, for labels and a space
  std::size_t columns = 0;           // of the plot
  std::vector<std::string> names;    // at the right of the plot, beside the lines

  const Chart& chart() const { return answer.chart; }
  std::size_t column_of(Instant at) const;
  // In half columns, the dots of a BrailleCanvas. REQUIRES: within the chart's span.
  int dot_of(Instant at) const;
};

// Between 40 and 200 columns wide, as the screen is. The result refers to all three.
// REQUIRES: the answer has readings.
ScreenLayout layout_of(const ChartAnswer& answer, const Zone& zone, const Screen& screen);

// The temperature at which water freezes, on the chart's scale; nothing of another unit.
std::optional<double> freezing_point(const Chart& chart);

// To the digits that a unit is worth: "-1.5" (°C), "65" (%), "2.31" (V).
std::string chart_number(double value, std::string_view unit);

}  // namespace rimeward
