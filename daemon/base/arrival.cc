#include "daemon/base/arrival.h"

#include <charconv>
#include <optional>

#include <fmt/format.h>

#include "sensors/decoders.h"
#include "sensors/iso_time.h"

namespace rimeward {
namespace {

constexpr std::size_t kFields = 6;  // before the payload

bool stands_as_it_is(unsigned char byte, bool in_topic) {
  if (byte == ' ') return !in_topic;
  return byte > 0x20 && byte < 0x7f && byte != '\\';
}

void append_escaped(std::string& line, std::string_view text, bool in_topic) {
  constexpr std::string_view kDigits = "0123456789abcdef";
  for (const char c : text) {
    const auto byte = static_cast<unsigned char>(c);
    if (stands_as_it_is(byte, in_topic)) {
      line += c;
      continue;
    }
    line += "\\x";
    line += kDigits[byte >> 4U];
    line += kDigits[byte & 0x0fU];
  }
}

std::optional<std::string> unescaped(std::string_view text, bool in_topic) {
  std::string bytes;
  bytes.reserve(text.size());
  for (std::size_t i = 0; i < text.size(); ++i) {
    if (text[i] != '\\') {
      if (!stands_as_it_is(static_cast<unsigned char>(text[i]), in_topic)) return {};
      bytes += text[i];
      continue;
    }
    if (i + 3 >= text.size() || text[i + 1] != 'x') return {};
    unsigned value = 0;
    const char* end = text.data() + i + 4;
    const auto read = std::from_chars(text.data() + i + 2, end, value, 16);
    if (read.ec != std::errc{} || read.ptr != end) return {};
    bytes += static_cast<char>(value);
    i += 3;
  }
  return bytes;
}

template <class Number>
std::optional<Number> whole_number(std::string_view text) {
  Number value{};
  const auto read = std::from_chars(text.data(), text.data() + text.size(), value);
  if (read.ec != std::errc{} || read.ptr != text.data() + text.size()) return {};
  return value;
}

struct Flags {
  int qos = 0;
  bool retained = false;
  bool redelivered = false;
  std::optional<std::chrono::seconds> uptime = {};
};

std::optional<Flags> flags_from(std::string_view text) {
  if (text.size() < 2 || text[0] != 'q' || text[1] < '0' || text[1] > '2') return {};
  Flags flags{.qos = text[1] - '0'};
  text.remove_prefix(2);
  if (text.starts_with('r')) {
    flags.retained = true;
    text.remove_prefix(1);
  }
  if (text.starts_with('d')) {
    flags.redelivered = true;
    text.remove_prefix(1);
  }
  if (text.starts_with(",u")) {
    const auto uptime = whole_number<std::uint32_t>(text.substr(2));
    if (!uptime) return {};
    flags.uptime = std::chrono::seconds{*uptime};
    return flags;
  }
  if (!text.empty()) return {};
  return flags;
}

tl::unexpected<Error> bad_field(std::string_view field, std::string_view expected) {
  return refuse(fmt::format("{}: expected {}", field, expected));
}

// The payload and its length, which must fit each other: this is what tells a line that
// lost its end.
Result<void> read_payload(std::string_view text, Arrival& arrival) {
  auto payload = unescaped(text, false);
  if (!payload) return bad_field("payload", "printable ASCII and \\xNN");
  arrival.payload = std::move(*payload);
  const bool cut = arrival.payload_bytes > kLargestPayload;
  const bool fits = cut ? arrival.payload.size() < arrival.payload_bytes
                        : arrival.payload.size() == arrival.payload_bytes;
  if (!fits) {
    return refuse(fmt::format("payload: expected {} bytes, found {}",
                              arrival.payload_bytes, arrival.payload.size()));
  }
  return {};
}

}  // namespace

std::string to_line(const Arrival& arrival) {
  std::string line = fmt::format(
      "{} {} q{}{}{}{} {} {} ", arrival.sequence, format_utc(arrival.at), arrival.qos,
      arrival.retained ? "r" : "", arrival.redelivered ? "d" : "",
      arrival.uptime ? fmt::format(",u{}", arrival.uptime->count()) : "",
      arrival.packet_id, arrival.payload_bytes);
  append_escaped(line, arrival.topic, true);
  line += ' ';
  append_escaped(line, arrival.payload, false);
  line += '\n';
  return line;
}

Result<Arrival> arrival_from_line(std::string_view line) {
  if (line.starts_with('#')) return refuse("a remark, not an arrival");
  std::string_view fields[kFields];
  for (auto& field : fields) {
    const auto space = line.find(' ');
    if (space == std::string_view::npos) {
      return refuse("expected SEQUENCE TIME FLAGS PACKET BYTES TOPIC PAYLOAD");
    }
    field = line.substr(0, space);
    line.remove_prefix(space + 1);
  }
  const auto [sequence_text, time, flag_text, packet, bytes, topic_text] = fields;

  const auto sequence = whole_number<std::uint64_t>(sequence_text);
  if (!sequence) return bad_field("sequence", "a whole number");
  const auto at = parse_instant(time);
  if (!at) return bad_field("time", "a time such as 2026-04-12T18:03:20Z");
  const auto flags = flags_from(flag_text);
  if (!flags)
    return bad_field("flags", "q0, q1 or q2, then r or d or both, then ,u and seconds");
  const auto packet_id = whole_number<std::uint16_t>(packet);
  if (!packet_id) return bad_field("packet", "0 to 65535");
  const auto payload_bytes = whole_number<std::size_t>(bytes);
  if (!payload_bytes) return bad_field("bytes", "a whole number");
  auto topic = unescaped(topic_text, true);
  if (!topic || topic->empty()) return bad_field("topic", "printable ASCII and \\xNN");

  Arrival arrival{.sequence = *sequence,
                  .at = *at,
                  .uptime = flags->uptime,
                  .topic = std::move(*topic),
                  .payload = {},
                  .payload_bytes = *payload_bytes,
                  .qos = flags->qos,
                  .retained = flags->retained,
                  .redelivered = flags->redelivered,
                  .packet_id = *packet_id};
  if (auto read = read_payload(line, arrival); !read) {
    return tl::unexpected(std::move(read.error()));
  }
  return arrival;
}

}  // namespace rimeward
