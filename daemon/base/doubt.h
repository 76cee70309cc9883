// Why a reading, or a whole message, was not believed or not stored: one table of the
// reasons, by which they are kept and counted. Thread-safe: the table is constant.

#pragma once

#include <cstdint>
#include <span>
#include <string_view>

namespace rimeward {

// The numbers are stored: never reuse one.
enum class Doubt : std::int8_t {
  kNone = 0,
  // Kept as doubtful readings, left out of everything that is computed:
  kRange = 1,         // outside what the channel, or the sensor's type, can report
  kPowerOn = 2,       // 85 °C: what a one-wire probe holds before it has measured
  kNotConnected = 3,  // -127 °C: what stands for a one-wire probe that does not answer
  kJump = 4,          // further from its neighbours in time than air can go
  kStuck = 5,         // the same value for long, while another place moved
  kSameSecond = 6,    // another value stands at that second
  kFuture = 7,        // measured after it arrived, by its own clock
  kTooOld = 8,        // measured long before it arrived, by its own clock
  kCalibration = 9,   // measured while the sensor was being checked
  // Not readings of their own, or not lost: counted only.
  kRetained = 10,     // a copy that the broker kept, of no known age
  kRepeat = 11,       // said before: the same packet id, or value and second
  kRedelivered = 12,  // the broker's second delivery of what is held already
  kOutOfOrder = 13,   // older than what came before it; believed and stored
  kUnreadable = 14,   // the payload could not be decoded
  kFlood = 15,        // more messages than any sensor needs to send
};

struct DoubtTraits {
  Doubt doubt;
  std::string_view name;   // "power-on": in outputs
  std::string_view words;  // "power-on value, 85 °C": for people
  bool is_kept;            // as a doubtful reading
};

std::span<const DoubtTraits> all_doubts();  // without kNone
const DoubtTraits& traits(Doubt doubt);     // REQUIRES: not kNone

}  // namespace rimeward
