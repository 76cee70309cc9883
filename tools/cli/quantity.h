// What a check of a sensor measures and comes to, with units, in the garden's choice of
// degrees. Pure.

#pragma once

#include <string>
#include <string_view>

#include "daemon/base/garden.h"
#include "daemon/store/rows.h"
#include "sensors/channel.h"

namespace rimeward {

// "°F" for a temperature of a garden in Fahrenheit; else the channel's own.
std::string_view unit_of(Channel channel, TemperatureUnit unit);

// A value of a channel in its own unit as it is shown, and a difference of two.
double shown_value(Channel channel, double value, TemperatureUnit unit);
double shown_difference(Channel channel, double difference, TemperatureUnit unit);
// And back.
double value_from_shown(Channel channel, double shown, TemperatureUnit unit);
double difference_from_shown(Channel channel, double shown, TemperatureUnit unit);

// To a hundredth: "0.43 °C".
std::string fine_quantity(Channel channel, double value, TemperatureUnit unit);
// "-0.43 °C"; never "-0.00".
std::string signed_difference(Channel channel, double difference, TemperatureUnit unit);
// Without a sign: "0.12 °C".
std::string size_of_difference(Channel channel, double difference, TemperatureUnit unit);

// What a correction does to what the sensor says: "-0.43 °C", or
// "1.020 times what it says, -0.60 °C".
std::string correction_text(const CorrectionRow& row, TemperatureUnit unit);
// " ± 0.12 °C", or nothing where it was not told.
std::string uncertainty_text(const CorrectionRow& row, TemperatureUnit unit);

}  // namespace rimeward
