// One MQTT message as it arrived, and the line of text that it is written down as: in the
// spool, in captured logs and for `rimeward rehearse --log`. Pure.
//
// A line reads, with single spaces and a newline at the end:
//
//   SEQUENCE TIME FLAGS PACKET BYTES TOPIC PAYLOAD
//   17 2026-04-12T18:03:20Z q1,u86462 42 19 garden/yard/climate {"temperature":3.1}
//
// FLAGS is q0, q1 or q2, then `r` for a retained copy and `d` for a redelivery, then `,u`
// and the seconds that the board had been on, where that is known. BYTES is the payload's
// whole length: of a payload over kLargestPayload only the beginning is kept. In TOPIC
// and PAYLOAD a backslash, control characters and bytes outside ASCII are written \xNN,
// and so is a space in TOPIC. Lines that begin with # are remarks.

#pragma once

#include <chrono>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include "sensors/result.h"
#include "sensors/units.h"

namespace rimeward {

struct Arrival {
  std::uint64_t sequence = 0;  // counts up without gaps, across restarts; 0: not spooled
  Instant at;                  // when it arrived, by our clock, which may have been wrong
  // Since the board was switched on, when it arrived; absent: not known, or before it was
  // switched off.
  std::optional<std::chrono::seconds> uptime = {};
  std::string topic;
  std::string payload;
  std::size_t payload_bytes = 0;  // its whole length, more than payload.size() when cut
  int qos = 1;
  bool retained = false;     // a copy kept by the broker, not fresh
  bool redelivered = false;  // MQTT's dup flag
  int packet_id = 0;         // MQTT's, the same when redelivered; 0 at QoS 0
};

std::string to_line(const Arrival& arrival);               // with its newline
Result<Arrival> arrival_from_line(std::string_view line);  // without the newline

}  // namespace rimeward
