// What `rimewardd --listen` prints, a line of JSON (RFC 8259) each, in ASCII:
//
//   {"connected": true}
//   {"trouble": "mqtt://127.0.0.1:1883: could not connect; ..."}
//   {"topic": "garden/yard/climate", "payload": "{\"temperature\": 3.1}", "retained":
//   true}
//
// Topics and payloads are bytes of an outsider's choice and must survive as they are, so
// each byte stands as the character of its number, U+0000 to U+00FF: what is ASCII can be
// read, "ä" in UTF-8 is written \u00c3\u00a4. Pure.

#pragma once

#include <string>
#include <string_view>

#include "sensors/result.h"

namespace rimeward {

struct HeardLine {
  enum class Kind { kConnected, kTrouble, kMessage };
  Kind kind = Kind::kConnected;
  std::string trouble{};  // kTrouble: what is wrong, and what to do
  std::string topic{};    // kMessage
  std::string payload{};  // kMessage: its beginning, where it is long
  bool retained = false;  // kMessage: a copy kept by the broker, not fresh
  bool operator==(const HeardLine&) const = default;
};

std::string to_line(const HeardLine& line);                     // with its newline
Result<HeardLine> heard_line_from_text(std::string_view line);  // without the newline

}  // namespace rimeward
