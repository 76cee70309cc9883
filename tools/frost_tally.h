// How a place's notices did against its frosts: which were told of in time, and which
// notices were for nothing. A frost is a night below the place's keep-above. Pure.

#pragma once

#include <cstdint>
#include <string>

#include "tools/rehearsal.h"

namespace rimeward {

struct FrostTally {
  std::int64_t nights = 0;  // with a low and a keep-above
  std::int64_t frosts = 0;
  // Of the frosts, how they were first told: by a `cover` notice before sunset, by one
  // after it, by `danger` alone, or not at all.
  std::int64_t before_sunset = 0;
  std::int64_t after_sunset = 0;
  std::int64_t danger_alone = 0;
  std::int64_t untold = 0;
  // Of the other nights, those with a `cover` notice, and those with a `danger`.
  std::int64_t covers_for_nothing = 0;
  std::int64_t dangers_for_nothing = 0;
  std::int64_t most_covers = 0;  // `cover` notices of one night: never more than one
  bool operator==(const FrostTally&) const = default;
};

// `zone` is the rehearsed garden's.
FrostTally frost_tally(const Rehearsal& rehearsal, const std::string& place,
                       const Zone& zone);

}  // namespace rimeward
