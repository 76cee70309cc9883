// The names of the store's marks: how far the daemon had got, in whole numbers.

#pragma once

namespace rimeward {

inline constexpr const char* kMarkNow = "now";  // the garden's clock, unix seconds
// 1 when that clock goes by the readings (a demo), 0 when it is the system's.
inline constexpr const char* kMarkClockByReadings = "clock_readings";
inline constexpr const char* kMarkLookedAt = "looked_at";  // the last look at the rules
inline constexpr const char* kMarkSequence = "spool_sequence";  // last arrival held
inline constexpr const char* kMarkAction = "action";            // last action taken
// Followed by a sensor's id: since when it has been waited for.
inline constexpr const char* kMarkWaitedFor = "waited_for_since:";

}  // namespace rimeward
