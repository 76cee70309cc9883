#include "daemon/base/doubt.h"

#include <algorithm>
#include <array>
#include <cstdlib>

namespace rimeward {
namespace {

constexpr std::array kDoubts{
    DoubtTraits{Doubt::kRange, "range", "out of range", true},
    DoubtTraits{Doubt::kPowerOn, "power-on", "power-on value, 85 °C", true},
    DoubtTraits{Doubt::kNotConnected, "not-connected", "probe not connected, -127 °C",
                true},
    DoubtTraits{Doubt::kJump, "jump", "jumps no air can make", true},
    DoubtTraits{Doubt::kStuck, "stuck", "stuck while another place moved", true},
    DoubtTraits{Doubt::kSameSecond, "same-second", "a second value for one second", true},
    DoubtTraits{Doubt::kFuture, "future", "from the future, by its own clock", true},
    DoubtTraits{Doubt::kTooOld, "too-old", "too old, by its own clock", true},
    DoubtTraits{Doubt::kCalibration, "calibration", "during a calibration", true},
    DoubtTraits{Doubt::kRetained, "retained", "copies kept by the broker", false},
    DoubtTraits{Doubt::kRepeat, "repeat", "said twice", false},
    DoubtTraits{Doubt::kRedelivered, "redelivered", "delivered twice by the broker",
                false},
    DoubtTraits{Doubt::kOutOfOrder, "out-of-order", "late, in their place all the same",
                false},
    DoubtTraits{Doubt::kUnreadable, "unreadable", "could not be read", false},
    DoubtTraits{Doubt::kFlood, "flood", "too many at once", false},
};

}  // namespace

std::span<const DoubtTraits> all_doubts() {
  return kDoubts;
}

const DoubtTraits& traits(Doubt doubt) {
  const auto found = std::ranges::find(kDoubts, doubt, &DoubtTraits::doubt);
  if (found == kDoubts.end()) std::abort();
  return *found;
}

}  // namespace rimeward
