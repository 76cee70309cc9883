// The payload formats: the bytes of one message in, measured values out.
//
// A decoder is a pure function. It knows nothing of MQTT, clocks, storage or logging,
// keeps no state and never throws for what a payload holds, so any byte string may be
// given to it. To add one: write sensors/decode_<name>.cc and add its line to
// sensors/decoders.def.

#pragma once

#include <cstddef>
#include <map>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "sensors/channel.h"
#include "sensors/result.h"
#include "sensors/units.h"

namespace rimeward {

// One channel's value in the channel's unit; finite, not yet held against any range.
struct Sample {
  Channel channel;
  double value;
};

// What one message measured.
struct Decoded {
  std::vector<Sample> samples;         // at most one a channel, never empty
  std::optional<Instant> measured_at;  // the payload's own word, not yet believed
};

// A larger payload is refused unread: no sensor needs one, and a decoder's work must stay
// bounded whatever is sent.
inline constexpr std::size_t kLargestPayload = 65'536;

// Refuses a payload that is empty or larger than kLargestPayload; every decoder asks
// first.
Result<void> payload_fits(std::string_view payload);

// Where in a payload a sensor's values stand, as its owner configured it.
struct PayloadSpec {
  std::map<Channel, std::string> pointers;          // RFC 6901; empty: the usual keys
  std::optional<std::string> time_pointer;          // RFC 6901; absent: the usual keys
  Channel lone_channel = Channel::kAirTemperature;  // what a bare number is
};

struct Decoder {
  std::string_view name;
  std::string_view reads;  // one line for help texts
  Result<Decoded> (*decode)(std::string_view payload, const PayloadSpec& spec);
};

std::span<const Decoder> all_decoders();

// The decoder of that name, or nullptr. The result lives as long as the program.
const Decoder* find_decoder(std::string_view name);

#define DECODER(name, reads) \
  Result<Decoded> decode_##name(std::string_view payload, const PayloadSpec& spec);
#include "sensors/decoders.def"
#undef DECODER

}  // namespace rimeward
