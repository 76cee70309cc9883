#include "tools/cli/records/record_text.h"

#include <algorithm>
#include <cstdlib>
#include <optional>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "sensors/iso_time.h"
#include "tools/cli/words.h"

namespace rimeward {
namespace {

std::string json_string(std::string_view text) {
  return nlohmann::json(text).dump(-1, ' ', false,
                                   nlohmann::json::error_handler_t::replace);
}

std::string json_number(std::optional<Milli> value) {
  return value ? text_of(*value) : "null";
}

std::string json_time(std::optional<Instant> at) {
  return at ? json_string(format_utc(*at)) : "null";
}

std::string csv_pair(std::optional<Milli> value, std::optional<Instant> at) {
  return fmt::format("{},{}", value ? text_of(*value) : "", at ? format_utc(*at) : "");
}

}  // namespace

std::string text_of(Milli value) {
  const Milli size = std::abs(value);
  std::string text = fmt::format("{}{}", value < 0 ? "-" : "", size / 1000);
  if (size % 1000 == 0) return text;
  text += fmt::format(".{:03}", size % 1000);
  text.erase(text.find_last_not_of('0') + 1);
  return text;
}

std::string csv_field(std::string_view text) {
  if (text.find_first_of(",\"\r\n") == std::string_view::npos) return std::string(text);
  std::string quoted = "\"";
  for (const char letter : text) {
    if (letter == '"') quoted += '"';
    quoted += letter;
  }
  return quoted + '"';
}

std::string_view ReadingLines::heading() const {
  return style_ == RecordStyle::kCsv ? "time,sensor,place,channel,value\n" : "";
}

void ReadingLines::add(const SeriesRow& series) {
  const std::string_view channel = traits(series.channel).name;
  middles_[series.id] =
      style_ == RecordStyle::kCsv
          ? fmt::format(",{},{},{},", csv_field(series.sensor), csv_field(series.place),
                        channel)
          : fmt::format(R"(","sensor":{},"place":{},"channel":"{}","value":)",
                        json_string(series.sensor), json_string(series.place), channel);
}

void ReadingLines::append(std::string& text, const ReadingRow& reading) {
  if (reading.time != last_time_ || last_time_text_.empty()) {
    last_time_ = reading.time;
    last_time_text_ = format_utc(reading.time);
  }
  if (style_ == RecordStyle::kJsonLines) text += R"({"time":")";
  text += last_time_text_;
  text += middles_.at(reading.series);
  text += text_of(reading.value);
  if (style_ == RecordStyle::kJsonLines) text += '}';
  text += '\n';
}

std::string_view day_heading(RecordStyle style) {
  return style == RecordStyle::kCsv ? "date,place,low,low_at,high,high_at\n" : "";
}

void append_day(std::string& text, const NotedDayRow& day, RecordStyle style) {
  if (style == RecordStyle::kCsv) {
    text += fmt::format("{},{},{},{}\n", date_text(day.date), csv_field(day.place),
                        csv_pair(day.low, day.low_at), csv_pair(day.high, day.high_at));
    return;
  }
  text += fmt::format(
      "{{\"date\":\"{}\",\"place\":{},\"low\":{},\"low_at\":{},\"high\":{},"
      "\"high_at\":{}}}\n",
      date_text(day.date), json_string(day.place), json_number(day.low),
      json_time(day.low_at), json_number(day.high), json_time(day.high_at));
}

}  // namespace rimeward
