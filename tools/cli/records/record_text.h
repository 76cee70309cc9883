// Records as they are written to a file: the forms of record_form.h. The same rows give
// the same bytes. Pure.

#pragma once

#include <chrono>
#include <map>
#include <string>
#include <string_view>

#include "daemon/store/rows.h"

namespace rimeward {

enum class RecordStyle { kCsv, kJsonLines };

// A value in its unit, to a thousandth at most, without needless zeros: "-0.5", "18".
std::string text_of(Milli value);

// As RFC 4180 wants it: in quotes where it holds a comma, a quote or a line end.
std::string csv_field(std::string_view text);

// One series after the other's readings, as lines.
class ReadingLines {
 public:
  explicit ReadingLines(RecordStyle style) : style_(style) {}

  // The first line of a CSV file; empty for JSON lines.
  std::string_view heading() const;
  void add(const SeriesRow& series);
  bool knows(SeriesId series) const { return middles_.contains(series); }
  // REQUIRES: its series was added.
  void append(std::string& text, const ReadingRow& reading);

 private:
  RecordStyle style_;
  std::map<SeriesId, std::string> middles_;  // between the time and the value
  // Of the last reading: most share it with the next.
  Instant last_time_ = Instant::min();
  std::string last_time_text_;
};

// Days, as lines.
std::string_view day_heading(RecordStyle style);
void append_day(std::string& text, const NotedDayRow& day, RecordStyle style);

}  // namespace rimeward
