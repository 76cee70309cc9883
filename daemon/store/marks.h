// The names of the store's marks: how far the daemon had got, in whole numbers.

#pragma once

#include <cstdint>
#include <limits>

namespace rimeward {

inline constexpr const char* kMarkNow = "now";  // the garden's clock, unix seconds
// 1 when that clock goes by the readings (a demo), 0 when it is the system's.
inline constexpr const char* kMarkClockByReadings = "clock_readings";
inline constexpr const char* kMarkLookedAt = "looked_at";  // the last look at the rules
inline constexpr const char* kMarkSequence = "spool_sequence";  // last arrival held
inline constexpr const char* kMarkAction = "action";            // last action taken
// Readings are kept from this UTC day on, in days since 1970: older ones were dropped.
inline constexpr const char* kMarkKeptFrom = "kept_from";
// Followed by a sensor's id: since when it is waited for (it came into the settings, or
// the garden was heard again after a silence as a whole); until when it is being
// checked, so that its readings are not the place's (0: it is not); its last packet id
// and when that came (seconds * 256 + id); how many times in a row its clock was wrong.
inline constexpr const char* kMarkWaitedFor = "waited_for_since:";
inline constexpr const char* kMarkChecking = "checking_until:";
inline constexpr const char* kMarkPacket = "packet:";
inline constexpr const char* kMarkClockWrong = "clock_wrong:";
// Followed by a place's id: its keep-above, in thousandths of a degree C, as it follows
// from the settings and the batches; kNoKeepAbove: nothing to protect there.
inline constexpr const char* kMarkKeepAbove = "keep_above:";
inline constexpr std::int64_t kNoKeepAbove = std::numeric_limits<std::int64_t>::min();
// Followed by a kind of letter: the hour for which the newest one was written, or before
// the first one the look since which it is asked for.
inline constexpr const char* kMarkLetter = "letter:";

}  // namespace rimeward
