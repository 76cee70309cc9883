// Which channel a value is of, by the unit and the name that its sender gave it, and the
// value in that channel's unit: for the formats whose messages say their units. Pure; the
// tables are constant.

#pragma once

#include <cstdint>
#include <optional>
#include <string_view>

#include "sensors/channel.h"
#include "sensors/decoders.h"
#include "sensors/result.h"

namespace rimeward {

// Whose way of writing units. SenML's: the registry of RFC 8428, section 12.1, and the
// secondary units of RFC 8798, section 3 (these from memory). Homie's: what convention 5
// recommends for "$unit", and the prefixed forms of these.
enum class UnitNotation : std::int8_t { kSenml, kHomie };

// What is measured in a unit.
enum class Measure : std::int8_t {
  kTemperature,
  kHumidity,  // that of air, where the unit says so
  kShare,     // a percentage of anything
  kIlluminance,
  kPressure,
  kVoltage,
  kBatteryLevel,
  kSignal,
};

struct MeasuringUnit {
  std::string_view text;
  Measure measure;
  double zero;   // what stands for zero of the channels' unit
  double scale;  // how much of the channels' unit one of it is
};

// The unit that is written so, to the letter. nullptr: none that any channel is measured
// in. What SenML's registry lacks is read as Homie writes it: senders of SenML write
// "°C", too. The result lives as long as the program.
const MeasuringUnit* find_unit(UnitNotation notation, std::string_view text);

// `value`, which is in `unit`, in the unit of the channels measured in it. Refused: what
// is beyond all range there.
Result<double> in_channel_unit(const MeasuringUnit& unit, double value);

// The channel that a value of that unit and name is of. Nothing where it could be of
// several and the name does not say, or where the name says that it is another thing.
//
// Names are in levels with ":" or "/" between them, such as a URN or "node/property"; of
// the last four the last that says anything counts. A temperature is the soil's where
// "soil" stands in the name or a word of it begins with "ground", else the air's. What a
// percentage is of is said by one of the channels' names and usual keys
// (sensors/channel.h), in any case and with any characters between its words:
// "Soil-Moisture 2". Where "forecast" stands in the whole name nothing was measured: a
// temperature there is the forecast_low if one of its usual keys stands there as well,
// and all else is of no channel.
std::optional<Channel> channel_of(const MeasuringUnit& unit, std::string_view name);

// A number as a message gives it.
struct Measured {
  double value;
  std::string_view unit;  // as it was written; "": none
};

// What was measured of a channel that the sensor's owner chose, whatever it is called, in
// the channel's unit. Without unit it is in that already, a temperature on `scale`.
// Refused: a unit that the channel is not measured in.
Result<double> in_unit_of(Channel channel, const Measured& measured,
                          UnitNotation notation, TemperatureScale scale);

}  // namespace rimeward
