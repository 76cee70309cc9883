#include "daemon/base/arrival.h"

#include <string>

#include <doctest/doctest.h>

#include "sensors/decoders.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;

constexpr Instant kEvening =
    std::chrono::sys_days{std::chrono::year{2026} / 4 / 12} + 18h + 3min + 20s;

Arrival sample() {
  Arrival arrival;
  arrival.sequence = 17;
  arrival.at = kEvening;
  arrival.uptime = 86'462s;
  arrival.topic = "garden/yard/climate";
  arrival.payload = R"({"temperature":3.1})";
  arrival.payload_bytes = arrival.payload.size();
  arrival.packet_id = 42;
  return arrival;
}

void check_same(const Arrival& a, const Arrival& b) {
  CHECK(a.sequence == b.sequence);
  CHECK(a.at == b.at);
  CHECK(a.uptime == b.uptime);
  CHECK(a.topic == b.topic);
  CHECK(a.payload == b.payload);
  CHECK(a.payload_bytes == b.payload_bytes);
  CHECK(a.qos == b.qos);
  CHECK(a.retained == b.retained);
  CHECK(a.redelivered == b.redelivered);
  CHECK(a.packet_id == b.packet_id);
}

Result<Arrival> read_back(const std::string& line) {
  REQUIRE(line.ends_with('\n'));
  return arrival_from_line(std::string_view(line).substr(0, line.size() - 1));
}

TEST_CASE("an arrival is written as the line that the header shows") {
  CHECK(to_line(sample()) ==
        "17 2026-04-12T18:03:20Z q1,u86462 42 19 garden/yard/climate "
        "{\"temperature\":3.1}\n");
}

TEST_CASE("a line that does not tell the uptime is read, and written as it was") {
  const std::string line =
      "17 2026-04-12T18:03:20Z q1rd 42 19 garden/yard/climate {\"temperature\":3.1}\n";
  const auto read = read_back(line);
  REQUIRE(read.has_value());
  CHECK_FALSE(read->uptime.has_value());
  CHECK(to_line(*read) == line);
}

TEST_CASE("every byte of topic and payload comes back from its line") {
  Arrival arrival = sample();
  arrival.topic.clear();
  arrival.payload.clear();
  for (int byte = 0; byte < 256; ++byte) {
    arrival.topic += static_cast<char>(byte);
    arrival.payload += static_cast<char>(byte);
  }
  arrival.payload_bytes = arrival.payload.size();
  const std::string line = to_line(arrival);
  for (const char c : line.substr(0, line.size() - 1))
    CHECK((c >= ' ' && c < 0x7f));
  const auto read = read_back(line);
  REQUIRE(read.has_value());
  check_same(*read, arrival);
}

TEST_CASE("flags, an empty payload and the largest numbers come back") {
  Arrival arrival = sample();
  arrival.sequence = 18'446'744'073'709'551'615U;
  arrival.payload.clear();
  arrival.payload_bytes = 0;
  arrival.packet_id = 65'535;
  for (const int qos : {0, 1, 2}) {
    for (const bool retained : {false, true}) {
      for (const bool redelivered : {false, true}) {
        CAPTURE(qos);
        arrival.uptime = std::chrono::seconds{redelivered ? 4'294'967'295 : 0};
        arrival.qos = qos;
        arrival.retained = retained;
        arrival.redelivered = redelivered;
        const auto read = read_back(to_line(arrival));
        REQUIRE(read.has_value());
        check_same(*read, arrival);
      }
    }
  }
}

TEST_CASE("a payload that was cut keeps its whole length") {
  Arrival arrival = sample();
  arrival.payload_bytes = kLargestPayload + 1;
  const auto read = read_back(to_line(arrival));
  REQUIRE(read.has_value());
  check_same(*read, arrival);
}

TEST_CASE("a line that is no arrival is refused with the reason") {
  struct Case {
    const char* line;
    const char* reason;
  };
  constexpr const char* kFlags =
      "flags: expected q0, q1 or q2, then r or d or both, then ,u and seconds";
  const Case cases[] = {
      {"", "expected SEQUENCE TIME FLAGS PACKET BYTES TOPIC PAYLOAD"},
      {"17 2026-04-12T18:03:20Z q1 42 1",
       "expected SEQUENCE TIME FLAGS PACKET BYTES TOPIC PAYLOAD"},
      {"# device: air-probe", "a remark, not an arrival"},
      {"x 2026-04-12T18:03:20Z q1 42 1 a b", "sequence: expected a whole number"},
      {"-1 2026-04-12T18:03:20Z q1 42 1 a b", "sequence: expected a whole number"},
      {"17 yesterday q1 42 1 a b", "time: expected a time such as 2026-04-12T18:03:20Z"},
      {"17 2026-04-12T18:03:20Z q3 42 1 a b", kFlags},
      {"17 2026-04-12T18:03:20Z q1dr 42 1 a b", kFlags},
      {"17 2026-04-12T18:03:20Z q1,u 42 1 a b", kFlags},
      {"17 2026-04-12T18:03:20Z q1,u-1 42 1 a b", kFlags},
      {"17 2026-04-12T18:03:20Z q1,u1d 42 1 a b", kFlags},
      {"17 2026-04-12T18:03:20Z q1u1 42 1 a b", kFlags},
      {"17 2026-04-12T18:03:20Z q1 65536 1 a b", "packet: expected 0 to 65535"},
      {"17 2026-04-12T18:03:20Z q1 42 one a b", "bytes: expected a whole number"},
      {"17 2026-04-12T18:03:20Z q1 42 1  b", "topic: expected printable ASCII and \\xNN"},
      {"17 2026-04-12T18:03:20Z q1 42 1 a\\x2 b",
       "topic: expected printable ASCII and \\xNN"},
      {"17 2026-04-12T18:03:20Z q1 42 1 a \\xg0",
       "payload: expected printable ASCII and \\xNN"},
      {"17 2026-04-12T18:03:20Z q1 42 1 a \\x4",
       "payload: expected printable ASCII and \\xNN"},
      {"17 2026-04-12T18:03:20Z q1 42 1 a \t",
       "payload: expected printable ASCII and \\xNN"},
      {"17 2026-04-12T18:03:20Z q1 42 3 a 21", "payload: expected 3 bytes, found 2"},
      {"17 2026-04-12T18:03:20Z q1 42 1 a 21", "payload: expected 1 bytes, found 2"},
  };
  for (const auto& [line, reason] : cases) {
    CAPTURE(line);
    const auto read = arrival_from_line(line);
    REQUIRE_FALSE(read.has_value());
    CHECK(read.error().message == reason);
  }
}

}  // namespace
}  // namespace rimeward
