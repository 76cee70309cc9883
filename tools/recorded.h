// Recorded readings in a CSV file, read one by one: what rimeward-play publishes and
// `rimeward rehearse` runs through the turns.
//
// The first line names the columns: `time` (ISO 8601 with offset or Z) and `temperature`
// (degrees C), and where there are any `humidity` (percent) and `place`; when it is asked
// for, `pressure` (hPa). Other columns are passed over. An empty humidity is none; a line
// without a temperature is passed over. Quotes as in RFC 4180, without line breaks inside
// them.

#pragma once

#include <filesystem>
#include <fstream>
#include <optional>
#include <string>
#include <vector>

#include "sensors/result.h"
#include "sensors/units.h"

namespace rimeward {

// The numbers stay as they are written, so that what is published is what was recorded.
struct RecordedReading {
  Instant time;
  std::string place;  // empty where the file has no such column
  std::string temperature;
  std::string humidity;  // empty: none
  std::string pressure;  // empty: none
};

class RecordedFile {
 public:
  enum class Pressure { kPassedOver, kWanted };

  // Refuses a file that cannot be opened or whose first line lacks a column.
  static Result<RecordedFile> open(const std::filesystem::path& file,
                                   Pressure pressure = Pressure::kPassedOver);

  // The next reading; nothing at the end of the file. Refuses a line that is not one with
  // "FILE:LINE: what was wrong"; the lines after it can be read on.
  Result<std::optional<RecordedReading>> next();

 private:
  struct Columns {
    std::size_t time = 0;
    std::size_t temperature = 0;
    std::optional<std::size_t> humidity;
    std::optional<std::size_t> place;
    std::optional<std::size_t> pressure;
  };
  RecordedFile() = default;
  std::string where() const;
  Result<RecordedReading> reading_from(const std::vector<std::string>& fields) const;

  std::filesystem::path file_;
  std::ifstream stream_;
  Columns columns_;
  std::size_t column_count_ = 0;
  std::size_t line_ = 0;
};

// The JSON object that a sensor would send for the reading:
// {"time":"2026-04-12T18:03:20Z","temperature":3.1,"humidity":81}.
std::string payload_of(const RecordedReading& reading);

}  // namespace rimeward
