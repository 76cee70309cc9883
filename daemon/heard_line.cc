#include "daemon/heard_line.h"

#include <optional>

#include <nlohmann/json.hpp>

#include "sensors/escape.h"
#include "sensors/utf8.h"

namespace rimeward {
namespace {

using Json = nlohmann::ordered_json;

// Each byte as the character of its number, in UTF-8.
std::string characters_of(std::string_view bytes) {
  std::string text;
  for (const char each : bytes) {
    const auto byte = static_cast<unsigned char>(each);
    if (byte < 0x80) {
      text += each;
    } else {
      text += static_cast<char>(0xC0U | (byte >> 6U));
      text += static_cast<char>(0x80U | (byte & 0x3FU));
    }
  }
  return text;
}

// The reverse; nothing where a character is that of no byte.
std::optional<std::string> bytes_of(std::string_view text) {
  std::string bytes;
  while (!text.empty()) {
    const auto character = first_character(text);
    if (!character || character->code > 0xFF) return std::nullopt;
    bytes += static_cast<char>(static_cast<unsigned char>(character->code));
    text.remove_prefix(character->length);
  }
  return bytes;
}

std::optional<std::string> bytes_at(const Json& object, const char* key) {
  const auto found = object.find(key);
  if (found == object.end() || !found->is_string()) return std::nullopt;
  return bytes_of(found->get_ref<const std::string&>());
}

Json json_of(const HeardLine& line) {
  switch (line.kind) {
    case HeardLine::Kind::kConnected:
      return {{"connected", true}};
    case HeardLine::Kind::kTrouble:
      return {{"trouble", characters_of(line.trouble)}};
    case HeardLine::Kind::kMessage:
      return {{"topic", characters_of(line.topic)},
              {"payload", characters_of(line.payload)},
              {"retained", line.retained}};
  }
  std::abort();
}

std::optional<HeardLine> read(const Json& object) {
  HeardLine line;
  if (auto trouble = bytes_at(object, "trouble")) {
    line.kind = HeardLine::Kind::kTrouble;
    line.trouble = *std::move(trouble);
    return line;
  }
  auto topic = bytes_at(object, "topic");
  auto payload = bytes_at(object, "payload");
  if (topic && payload) {
    const auto retained = object.find("retained");
    return HeardLine{.kind = HeardLine::Kind::kMessage,
                     .topic = *std::move(topic),
                     .payload = *std::move(payload),
                     .retained = retained != object.end() && *retained == true};
  }
  const auto connected = object.find("connected");
  if (connected != object.end() && *connected == true) return line;
  return std::nullopt;
}

}  // namespace

std::string to_line(const HeardLine& line) {
  return json_of(line).dump(-1, ' ', true) + "\n";
}

Result<HeardLine> heard_line_from_text(std::string_view text) {
  const Json object = Json::parse(text, nullptr, false);
  if (object.is_object()) {
    if (auto line = read(object)) return *std::move(line);
  }
  return refuse("not a line of rimewardd --listen: \"" + escaped(text, 100) + '"');
}

}  // namespace rimeward
