// SenML packs (RFC 8428) in JSON and in CBOR, resolved into records that stand each for
// itself (section 4.6). Pure.

#pragma once

#include <chrono>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "sensors/result.h"
#include "sensors/units.h"

namespace rimeward {

// When a record was measured (section 4.5.3).
struct SenmlTime {
  std::optional<Instant> at{};  // to the second, the rest cut off
  // Without it: how long before it was sent. Negative: after that.
  std::chrono::milliseconds ago{0};
};

struct SenmlRecord {
  std::string name;  // 1 to 256 of the characters that section 4.5.1 allows
  std::string unit;  // as it was written; "": none
  // Absent where it is a string, a boolean, data or only a sum, and where the sender has
  // none to give: null, NaN or an infinity.
  std::optional<double> value;
  SenmlTime time;
};

// The records of the pack in chronological order, those of one time as they stood; those
// that tell how long before come first. A payload that begins with "[" is JSON; one that
// begins as an array of CBOR, with its tag (RFC 8949, section 3.4.6) or without, is that.
//
// Refused, saying at which record: what RFC 8428 does not allow (a version above 10, no
// value or two, a name of other characters, a label that must be understood and is not, a
// base field of the wrong type) and times that no clock tells. Of a label that stands
// twice in JSON the last counts; in CBOR it is refused.
Result<std::vector<SenmlRecord>> resolved_senml(std::string_view payload);

}  // namespace rimeward
