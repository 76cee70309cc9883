// How the lows of one place differ from those of others, learned night by night, so that
// another place can stand in when its own sensor is silent. Plain values, no locking.
//
// Mean and variance of the differences, of which the newest 25 nights or so count. Method
// and constants are this project's own, measured on open hourly records: in eight pairs
// of stations 28 to 164 km apart the outlook made so holds 74 to 91 % of the lows in its
// 80 % range, in most of them more than 80, and 84 % from the sixth to the fifteenth
// night.

#pragma once

#include <functional>
#include <map>
#include <optional>
#include <string>
#include <string_view>

#include "daemon/climate/outlook.h"
#include "sensors/result.h"
#include "sensors/units.h"

namespace rimeward {

struct Difference {
  Kelvins mean;    // to be added to the other's low
  Kelvins spread;  // a standard error for one more night
  int nights;
};

// The other place's outlook, moved to this one and widened by what the difference leaves
// open. `air` is moved by the same. What only the other place's own readings say is not
// in it: neither features, dew point and last low, nor the running low.
Outlook stand_in(const Outlook& others, const Difference& difference);

class Differences {
 public:
  // Both places' lows of a night, neither under a cover: this one's less the other's.
  void learn(std::string_view other, Kelvins difference);

  // Nothing before five nights were seen.
  std::optional<Difference> to(std::string_view other) const;

  // Goes on to the last bit. restore() refuses what save() cannot have written.
  std::string save() const;
  static Result<Differences> restore(std::string_view text);

  bool operator==(const Differences&) const = default;

 private:
  struct Seen {
    int nights = 0;
    double mean = 0.0;      // in kelvins; newer nights count more
    double variance = 0.0;  // about it, in kelvins squared
    bool operator==(const Seen&) const = default;
  };
  static Difference expected(const Seen& seen);

  std::map<std::string, Seen, std::less<>> places_;
};

}  // namespace rimeward
