// The payload formats: the bytes of one message in, measured values out.
//
// A decoder is a pure function. It knows nothing of MQTT, clocks, storage or logging,
// keeps no state and never throws for what a payload holds, so any byte string may be
// given to it. To add one: write sensors/decode_<name>.cc and add its line to
// sensors/decoders.def.

#pragma once

#include <chrono>
#include <cstddef>
#include <cstdint>
#include <functional>
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
  Channel channel{};
  double value = 0;
  // When it was measured, by the payload's own word, which is not yet believed.
  std::optional<Instant> measured_at{};
  // Where the payload tells only how long before it was sent: that.
  std::chrono::seconds ago{0};
};

// What earlier messages of a sensor told about its later ones, by name: the unit that a
// topic's numbers are in, say. Kept by the caller, for each sensor its own.
using Facts = std::map<std::string, std::string, std::less<>>;

// What one message said.
struct Decoded {
  // At most one of a channel and time. May be empty where the message told facts, or
  // something that is no measurement.
  std::vector<Sample> samples{};
  Facts facts{};                   // to be kept, each in the place of its older self
  std::optional<int> packet_id{};  // 0 to 255, the same in every copy of one message
};

// One message as a decoder sees it.
struct Payload {
  std::string_view bytes;
  // The levels of its topic below the sensor's own, without the slash between:
  // "air/$unit". Empty but for formats that span topics.
  std::string_view below{};
};

// A larger payload is refused unread: no sensor needs one, and a decoder's work must stay
// bounded whatever is sent.
inline constexpr std::size_t kLargestPayload = 65'536;

// Refuses a payload that is empty or larger than kLargestPayload; every decoder asks
// first.
Result<void> payload_fits(std::string_view payload);

enum class TemperatureScale : std::int8_t { kCelsius, kFahrenheit };

// Where in a payload a sensor's values stand, as its owner configured it.
struct PayloadSpec {
  // By channel: in JSON an RFC 6901 pointer; in SenML a record's name, or the end of it;
  // in BTHome which of its kind, from "1"; in Homie "node/property". Empty: by the usual
  // keys and units.
  std::map<Channel, std::string> where{};
  std::optional<std::string> time_pointer{};  // RFC 6901; absent: the usual keys
  std::optional<std::string> data_pointer{};  // BTHome in JSON, RFC 6901; likewise
  std::optional<Channel> lone_channel{};      // what a bare number is; absent: not said
  // Of temperatures whose payload does not say it.
  TemperatureScale scale = TemperatureScale::kCelsius;
};

struct Decoder {
  std::string_view name;
  std::string_view reads;  // one line for help texts
  // Reads the topics below the sensor's own too.
  bool spans_topics;
  Result<Decoded> (*decode)(const Payload& payload, const PayloadSpec& spec,
                            const Facts& known);
};

std::span<const Decoder> all_decoders();

// The decoder of that name, or nullptr. The result lives as long as the program.
const Decoder* find_decoder(std::string_view name);

#define DECODER(name, reads, spans_topics)                                       \
  Result<Decoded> decode_##name(const Payload& payload, const PayloadSpec& spec, \
                                const Facts& known);
#include "sensors/decoders.def"
#undef DECODER

}  // namespace rimeward
