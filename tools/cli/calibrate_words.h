// What `rimeward calibrate` says: the steps of a check, how it stands, what it came to.
// Pure.

#pragma once

#include <optional>
#include <string>
#include <vector>

#include "daemon/store/correction_json.h"
#include "tools/cli/calibrate_check.h"
#include "tools/cli/calibrate_session.h"

namespace rimeward {

// A correction as it would be stored, and how it was found.
struct FoundCorrection {
  CorrectionRow row{};
  std::optional<SteadyValue> read{};  // of a check
  std::optional<KnownValue> known{};  // likewise
  // Of an earlier check above another salt, whose point is in it too.
  std::string_view with_salt{};
  std::optional<CorrectionRow> replaces{};  // what is in force
  std::optional<double> too_far{};          // the limit that it is beyond
};

// What to do, from now on; `usual_gap` tells how long it will take.
std::string steps(const Context& context, const CheckPlan& plan,
                  const RunningCheck& check,
                  std::optional<std::chrono::seconds> usual_gap);

// "still falls, by 0.40 °C in 5 min".
std::string words_for(const NotSteady& why, const CheckPlan& plan, TemperatureUnit unit);

// What was read, what should have been, and the correction that follows.
std::string words_for(const FoundCorrection& found, const Context& context);

// Why it had better not be stored. REQUIRES: found.too_far.
std::string doubts_about(const FoundCorrection& found, const Context& context);

// The command that takes the check up again.
std::string command_for(const CheckPlan& plan);

nlohmann::ordered_json json_of(const FoundCorrection& found);

}  // namespace rimeward
