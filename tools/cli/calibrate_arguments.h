// What was typed after `rimeward calibrate`, read and held against the garden. Pure but
// for looking at which channels the sensor has.

#pragma once

#include <functional>
#include <string_view>
#include <vector>

#include "daemon/store/correction_json.h"
#include "sensors/result.h"
#include "tools/cli/verb.h"

namespace rimeward {

inline constexpr std::string_view kChannelOption = "--channel";

// The sensor's channel that the option names, or the only one that `fits`. `what` is what
// it is wanted for, as in "checked in ice water".
Result<Channel> choose_channel(const Context& context, const Sensor& sensor,
                               const Arguments& arguments,
                               const std::function<bool(Channel)>& fits,
                               std::string_view what);

// A number and nothing else; the error names the option.
Result<double> number_of(const Arguments& arguments, std::string_view option);

// "0.4=0.0,21.3=20.8": what it said, and what was true; one pair or two.
Result<std::vector<SaidAndTrue>> points_from_text(std::string_view text);

}  // namespace rimeward
