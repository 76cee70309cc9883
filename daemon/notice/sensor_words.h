// What the rules about sensors do alike, and how the terminal names what sensors say.
// Pure.

#pragma once

#include <optional>
#include <string>
#include <vector>

#include "daemon/notice/rule.h"

namespace rimeward {

// What a sensor says, with its unit: "4.25 °C", "-196.6 °F", "2.35 V". For any number. A
// notice says it by its Wording, as it does the next.
std::string value_text(Channel channel, double value, TemperatureUnit units);

// The channel as people call it: "soil temperature".
std::string words_for(Channel channel);

// A finding about that sensor; the words are still to come.
Finding finding_about(const SensorView& view, bool holds);

// True when the air of the sensor's place is known from a reading after `at`.
bool is_air_known(const Situation& situation, const SensorView& view, Instant at);

}  // namespace rimeward
