#include "sensors/channel_units.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <span>
#include <string>
#include <vector>

#include <fmt/format.h>

#include "sensors/escape.h"

namespace rimeward {
namespace {

// Zero and step of the Celsius scale: BIPM, The International System of Units; NIST SP
// 811 (both from memory).
constexpr double kCelsiusZeroInKelvins = 273.15;
constexpr double kCelsiusZeroInFahrenheit = 32;
constexpr double kCelsiusPerFahrenheit = 5.0 / 9.0;
// 1 W is 30 dBm.
constexpr double kMilliwattInDecibelWatts = -30;

constexpr MeasuringUnit kCelsius{"°C", Measure::kTemperature, 0, 1};
constexpr MeasuringUnit kFahrenheit{"°F", Measure::kTemperature, kCelsiusZeroInFahrenheit,
                                    kCelsiusPerFahrenheit};

constexpr std::array kSenmlUnits{
    MeasuringUnit{"Cel", Measure::kTemperature, 0, 1},
    MeasuringUnit{"K", Measure::kTemperature, kCelsiusZeroInKelvins, 1},
    MeasuringUnit{"%RH", Measure::kHumidity, 0, 1},
    MeasuringUnit{"%EL", Measure::kBatteryLevel, 0, 1},
    // A ratio. "%" is the same for historical reasons, and no percentage (RFC 8428,
    // section 12.1, note 2).
    MeasuringUnit{"/", Measure::kShare, 0, 100},
    MeasuringUnit{"%", Measure::kShare, 0, 100},
    MeasuringUnit{"/100", Measure::kShare, 0, 1},
    MeasuringUnit{"lx", Measure::kIlluminance, 0, 1},
    MeasuringUnit{"Pa", Measure::kPressure, 0, 0.01},
    MeasuringUnit{"hPa", Measure::kPressure, 0, 1},
    MeasuringUnit{"V", Measure::kVoltage, 0, 1},
    MeasuringUnit{"mV", Measure::kVoltage, 0, 0.001},
    MeasuringUnit{"dBW", Measure::kSignal, kMilliwattInDecibelWatts, 1},
    MeasuringUnit{"dBm", Measure::kSignal, 0, 1},
};

constexpr std::array kHomieUnits{
    kCelsius,
    kFahrenheit,
    MeasuringUnit{"K", Measure::kTemperature, kCelsiusZeroInKelvins, 1},
    MeasuringUnit{"%", Measure::kShare, 0, 1},
    MeasuringUnit{"lx", Measure::kIlluminance, 0, 1},
    MeasuringUnit{"Pa", Measure::kPressure, 0, 0.01},
    MeasuringUnit{"hPa", Measure::kPressure, 0, 1},
    MeasuringUnit{"mbar", Measure::kPressure, 0, 1},
    MeasuringUnit{"kPa", Measure::kPressure, 0, 10},
    MeasuringUnit{"V", Measure::kVoltage, 0, 1},
    MeasuringUnit{"mV", Measure::kVoltage, 0, 0.001},
    MeasuringUnit{"dBm", Measure::kSignal, 0, 1},
};

// Shorter keys stand in too many other words to be looked for inside of them.
constexpr std::size_t kTellingLength = 4;

// What stands before them is the address of a device; and a name from outside must not
// cost much, however many levels it has.
constexpr std::size_t kMostLevels = 4;

constexpr std::array kShares{Channel::kSoilMoisture, Channel::kBatteryPercent,
                             Channel::kHumidity};

bool is_letter_or_digit(char c) {
  return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9');
}

char lower(char c) {
  return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
}

// Runs of letters and digits, in lower case; also a capital after a small letter begins a
// word.
std::vector<std::string> words_of(std::string_view level) {
  std::vector<std::string> words;
  bool begins = true;
  char before = ' ';
  for (const char c : level) {
    const bool capital = lower(c) != c && lower(before) == before;
    if (is_letter_or_digit(c)) {
      if (begins || capital) words.emplace_back();
      words.back() += lower(c);
    }
    begins = !is_letter_or_digit(c);
    before = c;
  }
  return words;
}

std::string joined(std::string_view level) {
  std::string all;
  for (const char c : level) {
    if (is_letter_or_digit(c)) all += lower(c);
  }
  return all;
}

// One level of a name, ready to be compared.
struct Level {
  std::string joined;
  std::vector<std::string> words;
};

// The last comes first.
std::vector<Level> levels_of(std::string_view name) {
  std::vector<Level> levels;
  while (!name.empty() && levels.size() < kMostLevels) {
    const std::size_t cut = name.find_last_of(":/");
    const std::size_t begin = cut == std::string_view::npos ? 0 : cut + 1;
    const std::string_view level = name.substr(begin);
    if (!level.empty()) levels.push_back({joined(level), words_of(level)});
    name = name.substr(0, begin == 0 ? 0 : cut);
  }
  return levels;
}

bool says_soil(const Level& level) {
  return level.joined.find("soil") != std::string::npos ||
         std::ranges::any_of(level.words, [](const std::string& word) {
           return word.starts_with("ground");
         });
}

bool says_air(const Level& level) {
  return std::ranges::any_of(
      level.words, [](const std::string& word) { return word.starts_with("air"); });
}

bool is_of_soil(std::span<const Level> levels) {
  for (const Level& level : levels) {
    if (says_soil(level)) return true;
    if (says_air(level)) return false;
  }
  return false;
}

bool says(const Level& level, std::string_view key) {
  const std::string sought = joined(key);
  if (level.joined == sought) return true;
  if (sought.size() >= kTellingLength) {
    return level.joined.find(sought) != std::string::npos;
  }
  return sought.size() > 1 && std::ranges::find(level.words, sought) != level.words.end();
}

bool says(const Level& level, Channel channel) {
  const ChannelTraits& its = traits(channel);
  return says(level, its.name) ||
         std::ranges::any_of(its.usual_keys,
                             [&](std::string_view key) { return says(level, key); });
}

// Whether it is only foreseen, what has that name.
bool is_foreseen(const Level& whole) {
  return whole.joined.find("forecast") != std::string::npos ||
         says(whole, Channel::kForecastLow);
}

// The share that one level of a name says.
std::optional<Channel> share_in(const Level& level) {
  const auto found = std::ranges::find_if(
      kShares, [&](Channel channel) { return says(level, channel); });
  return found == kShares.end() ? std::nullopt : std::optional(*found);
}

std::optional<Channel> share_named(std::span<const Level> levels) {
  for (const Level& level : levels) {
    const auto share = share_in(level);
    if (!share) continue;
    // What soil holds is its moisture, by whatever word.
    const bool of_soil = *share == Channel::kHumidity && is_of_soil(levels);
    return of_soil ? Channel::kSoilMoisture : *share;
  }
  return std::nullopt;
}

// A probe in soil may report what it measures as the voltage that it measured.
bool is_of_battery(std::span<const Level> levels) {
  for (const Level& level : levels) {
    if (level.joined.find("bat") != std::string::npos) return true;
    if (says_soil(level) || says(level, Channel::kSoilMoisture)) return false;
  }
  return true;
}

const MeasuringUnit* in(std::span<const MeasuringUnit> units, std::string_view text) {
  const auto found = std::ranges::find(units, text, &MeasuringUnit::text);
  return found == units.end() ? nullptr : &*found;
}

// Whether a value of `channel` may be in `unit`.
bool may_measure(const MeasuringUnit& unit, Channel channel) {
  const bool share = unit.measure == Measure::kShare;
  switch (channel) {
    case Channel::kAirTemperature:
    case Channel::kSoilTemperature:
    case Channel::kForecastLow:
      return unit.measure == Measure::kTemperature;
    case Channel::kHumidity:
    case Channel::kSoilMoisture:
      return share || unit.measure == Measure::kHumidity;
    case Channel::kLight:
      return unit.measure == Measure::kIlluminance;
    case Channel::kPressure:
      return unit.measure == Measure::kPressure;
    case Channel::kBatteryVoltage:
      return unit.measure == Measure::kVoltage;
    case Channel::kBatteryPercent:
      return share || unit.measure == Measure::kBatteryLevel;
    case Channel::kSignal:
      return unit.measure == Measure::kSignal;
  }
  return false;
}

}  // namespace

const MeasuringUnit* find_unit(UnitNotation notation, std::string_view text) {
  if (notation == UnitNotation::kHomie) return in(kHomieUnits, text);
  const MeasuringUnit* unit = in(kSenmlUnits, text);
  return unit == nullptr ? in(kHomieUnits, text) : unit;
}

Result<double> in_channel_unit(const MeasuringUnit& unit, double value) {
  const double converted = (value - unit.zero) * unit.scale;
  if (!std::isfinite(converted)) return refuse("a number beyond all range");
  return converted;
}

std::optional<Channel> channel_of(const MeasuringUnit& unit, std::string_view name) {
  const Level whole{joined(name), {}};
  if (is_foreseen(whole)) {
    const bool is_low =
        unit.measure == Measure::kTemperature && says(whole, Channel::kForecastLow);
    return is_low ? std::optional(Channel::kForecastLow) : std::nullopt;
  }
  const std::vector<Level> levels = levels_of(name);
  switch (unit.measure) {
    case Measure::kTemperature:
      return is_of_soil(levels) ? Channel::kSoilTemperature : Channel::kAirTemperature;
    case Measure::kHumidity:
      return Channel::kHumidity;
    case Measure::kShare:
      return share_named(levels);
    case Measure::kIlluminance:
      return Channel::kLight;
    case Measure::kPressure:
      return Channel::kPressure;
    case Measure::kVoltage:
      if (!is_of_battery(levels)) return std::nullopt;
      return Channel::kBatteryVoltage;
    case Measure::kBatteryLevel:
      return Channel::kBatteryPercent;
    case Measure::kSignal:
      return Channel::kSignal;
  }
  return std::nullopt;
}

Result<double> in_unit_of(Channel channel, const Measured& measured,
                          UnitNotation notation, TemperatureScale scale) {
  if (measured.unit.empty()) {
    const bool fahrenheit =
        scale == TemperatureScale::kFahrenheit && may_measure(kFahrenheit, channel);
    return fahrenheit ? in_channel_unit(kFahrenheit, measured.value) : measured.value;
  }
  const MeasuringUnit* unit = find_unit(notation, measured.unit);
  if (unit != nullptr && may_measure(*unit, channel)) {
    return in_channel_unit(*unit, measured.value);
  }
  return refuse(fmt::format("in \"{}\", which is no unit of {}", escaped(measured.unit),
                            traits(channel).name));
}

}  // namespace rimeward
