// Degree days in words, in the garden's choice of degrees. Pure.

#pragma once

#include <chrono>
#include <optional>
#include <string>

#include "daemon/base/garden.h"
#include "daemon/base/quantities.h"
#include "tools/cli/warmth_answer.h"

namespace rimeward {

// In the unit of the garden: a degree Celsius is 1.8 degrees Fahrenheit.
double shown_sum(DegreeDays sum, TemperatureUnit unit);
std::string sum_unit(TemperatureUnit unit);  // "°C days"

// "132": whole and rounded down, so that what is not reached never reads as if it were;
// "-" where it is not known.
std::string sum_text(std::optional<DegreeDays> sum, TemperatureUnit unit);
// "132 of 450".
std::string stage_sum_text(const StageWarmth& stage, TemperatureUnit unit);
// "9.8", or "-" where too few days are known.
std::string pace_text(const std::optional<Pace>& pace, TemperatureUnit unit);

// "reached 3 Jul"; "not reached" before.
std::string reached_text(const StageWarmth& stage, const Context& context);

// "132 of 450 °C days to transplanting"; "first picking reached 3 Jul" after the last
// stage; the sum alone of a crop without stages.
std::string progress_text(const BatchWarmth& warmth, const Context& context);

// "12 to 17 May; by 3 past years 10 to 19 May".
std::string due_text(const Due& due, std::chrono::sys_days today);

}  // namespace rimeward
