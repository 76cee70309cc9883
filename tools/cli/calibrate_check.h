// A sensor's check in ice water or above a salt: begun, waited for or taken up again, and
// settled with a correction.

#pragma once

#include <chrono>
#include <optional>
#include <string_view>

#include "daemon/climate/calibration.h"
#include "tools/cli/verb.h"

namespace rimeward {

// How a kind of check goes.
struct CheckMethod {
  std::string_view name;        // as it is typed
  std::chrono::hours length;    // it is over by then, whatever comes of it
  std::chrono::hours least;     // nothing that was said before counts
  std::chrono::hours patience;  // waited for, where nobody says how long
  // Whether the gardener need not stay: leaving it lets it go on.
  bool goes_on_alone;
  SteadyLimits limits;
};

extern const CheckMethod kIceCheck;
extern const CheckMethod kSaltCheck;

struct CheckPlan {
  const Sensor* sensor = nullptr;
  Channel channel{};
  const CheckMethod* method = nullptr;
  const Salt* salt = nullptr;   // of a salt's check
  std::optional<Celsius> at{};  // in the jar; absent: as the sensor itself says
  std::optional<std::chrono::seconds> patience{};  // absent: the method's
  bool yes = false;                                // stores without asking
  bool anyway = false;  // stores also what no sound sensor needs
};

Reply run_check(const Context& context, const CheckPlan& plan);

}  // namespace rimeward
