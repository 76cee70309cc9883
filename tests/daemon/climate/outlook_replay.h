// Readings from a file through the outlook, as the daemon does it: for its tests only.

#pragma once

#include <charconv>
#include <chrono>
#include <filesystem>
#include <fstream>
#include <map>
#include <optional>
#include <span>
#include <sstream>
#include <stdexcept>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/climate/outlook.h"
#include "sensors/channel.h"

namespace rimeward {

struct Row {
  Instant at;
  double air;
  std::optional<double> humidity;
  std::optional<double> pressure{};
};

inline double number_from(std::string_view text) {
  double value = 0.0;
  const auto read = std::from_chars(text.data(), text.data() + text.size(), value);
  if (read.ec != std::errc{}) throw std::runtime_error("no number: " + std::string{text});
  return value;
}

// Of "2024-03-01T06:00:00Z".
inline Instant instant_from(const std::string& text) {
  const auto part = [&text](std::size_t from, std::size_t length) {
    return static_cast<int>(number_from(std::string_view{text}.substr(from, length)));
  };
  const std::chrono::year_month_day date{
      std::chrono::year{part(0, 4)},
      std::chrono::month{static_cast<unsigned>(part(5, 2))},
      std::chrono::day{static_cast<unsigned>(part(8, 2))}};
  return std::chrono::sys_days{date} + std::chrono::hours{part(11, 2)} +
         std::chrono::minutes{part(14, 2)} + std::chrono::seconds{part(17, 2)};
}

// The rows of a comma-separated file, each by the names in its first line. No quotes.
inline std::vector<std::map<std::string, std::string>> read_table(
    const std::filesystem::path& path) {
  std::ifstream file(path);
  if (!file) throw std::runtime_error("cannot read " + path.string());
  const auto fields_of = [](const std::string& line) {
    std::vector<std::string> fields;
    std::istringstream stream(line);
    for (std::string field; std::getline(stream, field, ',');)
      fields.push_back(field);
    return fields;
  };
  std::string line;
  std::getline(file, line);
  const auto names = fields_of(line);
  std::vector<std::map<std::string, std::string>> rows;
  while (std::getline(file, line)) {
    auto fields = fields_of(line);
    fields.resize(names.size());
    auto& row = rows.emplace_back();
    for (std::size_t i = 0; i < names.size(); ++i)
      row[names[i]] = fields[i];
  }
  return rows;
}

// The readings of a file with time, temperature and humidity; of one series, where it has
// a column of that name.
inline std::vector<Row> read_readings(const std::filesystem::path& path,
                                      const std::string& series = "") {
  std::vector<Row> readings;
  for (auto& row : read_table(path)) {
    if (row["series"] != series) continue;
    Row reading{instant_from(row["time"]),
                from_milli(to_milli(number_from(row["temperature"]))), std::nullopt};
    if (!row["humidity"].empty() && row["humidity"] != "nan") {
      reading.humidity = from_milli(to_milli(number_from(row["humidity"])));
    }
    readings.push_back(reading);
  }
  return readings;
}

// Feeds the engine one reading as outlook.h asks of a caller. Calls `after_event(engine)`
// after each event.
template <class AfterEvent>
void tell(NightOutlook& engine, Recents& recents, const Row& row,
          std::vector<OutlookEvent>& events, AfterEvent after_event) {
  engine.start(row.at);
  while (engine.next_due() && *engine.next_due() < row.at) {
    if (auto event = engine.run_next(recents)) events.push_back(*std::move(event));
    after_event(engine);
  }
  recents.air.insert(row.at, row.air);
  if (row.humidity) recents.humidity.insert(row.at, *row.humidity);
  if (row.pressure) recents.pressure.insert(row.at, *row.pressure);
  recents.forget_before(row.at - std::chrono::hours{50});
}

inline std::vector<OutlookEvent> replay(NightOutlook engine, std::span<const Row> rows) {
  Recents recents;
  std::vector<OutlookEvent> events;
  for (const Row& row : rows) {
    tell(engine, recents, row, events, [](const NightOutlook&) {});
  }
  return events;
}

// An outlook and what came of it, as in the files of check values: of valid nights only,
// and not of the first, on which the specification is silent.
struct Came {
  Outlook outlook;
  Celsius low;
};

inline std::vector<Came> verified(std::span<const OutlookEvent> events) {
  std::vector<Came> all;
  for (const OutlookEvent& event : events) {
    const auto* ended = std::get_if<NightEnded>(&event);
    if (ended == nullptr || !ended->low) continue;
    for (const Outlook& outlook : ended->outlooks) {
      if (outlook.lows_known) all.push_back({outlook, *ended->low});
    }
  }
  return all;
}

}  // namespace rimeward
