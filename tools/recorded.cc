#include "tools/recorded.h"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <string_view>

#include <fmt/format.h>

#include "sensors/escape.h"
#include "sensors/iso_time.h"

namespace rimeward {
namespace {

// The fields of one line; quotes taken off, two in a quoted field being one.
std::vector<std::string> split(std::string_view line) {
  std::vector<std::string> fields(1);
  bool quoted = false;
  for (std::size_t i = 0; i < line.size(); ++i) {
    if (quoted && line.substr(i, 2) == "\"\"") {
      fields.back() += line[i++];
    } else if (line[i] == '"') {
      quoted = !quoted;
    } else if (line[i] == ',' && !quoted) {
      fields.emplace_back();
    } else {
      fields.back() += line[i];
    }
  }
  return fields;
}

// A number as JSON writes it: from_chars alone would take "007" and "3." too.
bool is_number(std::string_view text) {
  double value = 0;
  const auto read = std::from_chars(text.data(), text.data() + text.size(), value);
  if (read.ec != std::errc{} || read.ptr != text.data() + text.size()) return false;
  const std::string_view digits = text.starts_with('-') ? text.substr(1) : text;
  const bool needless_zero =
      digits.size() > 1 && digits[0] == '0' && digits[1] >= '0' && digits[1] <= '9';
  return std::isfinite(value) && digits[0] >= '0' && digits[0] <= '9' && !needless_zero &&
         !digits.ends_with('.');
}

bool is_absent(std::string_view text) {
  return text.empty() || text == "nan" || text == "NaN" || text == "NA";
}

}  // namespace

Result<RecordedFile> RecordedFile::open(const std::filesystem::path& file,
                                        Pressure pressure) {
  RecordedFile recorded;
  recorded.file_ = file;
  recorded.stream_.open(file);
  std::string line;
  if (!recorded.stream_ || !std::getline(recorded.stream_, line)) {
    return refuse(fmt::format("{}: cannot be read, or is empty", file.string()));
  }
  recorded.line_ = 1;
  if (line.ends_with('\r')) line.pop_back();
  const std::vector<std::string> names = split(line);
  recorded.column_count_ = names.size();
  const auto column = [&](std::string_view name) -> std::optional<std::size_t> {
    const auto found = std::ranges::find(names, name);
    if (found == names.end()) return std::nullopt;
    return static_cast<std::size_t>(found - names.begin());
  };
  const auto time = column("time");
  const auto temperature = column("temperature");
  if (!time || !temperature) {
    return refuse(fmt::format(
        "{}: the first line must name the columns time and temperature; got \"{}\"",
        recorded.where(), escaped(line)));
  }
  recorded.columns_ = {*time, *temperature, column("humidity"), column("place"), {}};
  if (pressure == Pressure::kPassedOver) return recorded;
  recorded.columns_.pressure = column("pressure");
  if (!recorded.columns_.pressure) {
    return refuse(fmt::format("{}: the first line names no column pressure; got \"{}\"",
                              recorded.where(), escaped(line)));
  }
  return recorded;
}

std::string RecordedFile::where() const {
  return fmt::format("{}:{}", file_.string(), line_);
}

Result<std::optional<RecordedReading>> RecordedFile::next() {
  std::string line;
  while (std::getline(stream_, line)) {
    ++line_;
    if (line.ends_with('\r')) line.pop_back();
    if (line.empty()) continue;
    const std::vector<std::string> fields = split(line);
    if (fields.size() != column_count_) {
      return refuse(fmt::format("{}: expected {} fields, got {}", where(), column_count_,
                                fields.size()));
    }
    if (is_absent(fields[columns_.temperature])) continue;
    auto reading = reading_from(fields);
    if (!reading) return tl::unexpected(reading.error());
    return std::move(*reading);
  }
  return std::nullopt;
}

Result<RecordedReading> RecordedFile::reading_from(
    const std::vector<std::string>& fields) const {
  const auto time = parse_instant(fields[columns_.time]);
  if (!time) {
    return refuse(
        fmt::format("{}: time: expected one such as 2026-04-12T18:03:20Z, got \"{}\"",
                    where(), escaped(fields[columns_.time])));
  }
  RecordedReading reading{
      .time = *time,
      .place = columns_.place ? fields[*columns_.place] : "",
      .temperature = fields[columns_.temperature],
      .humidity = columns_.humidity ? fields[*columns_.humidity] : "",
      .pressure = columns_.pressure ? fields[*columns_.pressure] : ""};
  for (std::string* text : {&reading.humidity, &reading.pressure}) {
    if (is_absent(*text)) text->clear();
  }
  for (const auto& [name, text] : {std::pair{"temperature", &reading.temperature},
                                   std::pair{"humidity", &reading.humidity},
                                   std::pair{"pressure", &reading.pressure}}) {
    if (text->empty() || is_number(*text)) continue;
    return refuse(fmt::format("{}: {}: expected a number, got \"{}\"", where(), name,
                              escaped(*text)));
  }
  return reading;
}

std::string payload_of(const RecordedReading& reading) {
  std::string payload = fmt::format(R"({{"time":"{}","temperature":{})",
                                    format_utc(reading.time), reading.temperature);
  if (!reading.humidity.empty()) payload += ",\"humidity\":" + reading.humidity;
  if (!reading.pressure.empty()) payload += ",\"pressure\":" + reading.pressure;
  return payload + "}";
}

}  // namespace rimeward
