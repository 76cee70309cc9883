#include "sensors/escape.h"

#include <cstdint>
#include <optional>

#include <fmt/format.h>

#include "sensors/utf8.h"

namespace rimeward {
namespace {

constexpr bool turns_or_hides(char32_t code) {
  return (code >= 0x80 && code < 0xa0) || code == 0xad || code == 0x61c ||
         (code >= 0x200b && code <= 0x200f) || (code >= 0x2028 && code <= 0x202e) ||
         (code >= 0x2060 && code <= 0x206f) || code == 0xfeff;
}

std::string shown(std::string_view text, const std::optional<Utf8Character>& character) {
  if (!character) {
    return fmt::format("\\x{:02x}", static_cast<unsigned char>(text.front()));
  }
  switch (character->code) {
    case U'\n':
      return "\\n";
    case U'\r':
      return "\\r";
    case U'\t':
      return "\\t";
    case U'"':
      return "\\\"";
    case U'\\':
      return "\\\\";
    default:
      break;
  }
  const auto code = static_cast<std::uint32_t>(character->code);
  if (code < 0x20 || code == 0x7f) return fmt::format("\\x{:02x}", code);
  if (turns_or_hides(character->code)) return fmt::format("\\u{:04x}", code);
  return std::string(text.substr(0, character->length));
}

}  // namespace

std::string escaped(std::string_view text, std::size_t longest) {
  std::string safe;
  for (std::size_t count = 0; !text.empty(); ++count) {
    if (count == longest) return safe + "...";
    const auto character = first_character(text);
    safe += shown(text, character);
    text.remove_prefix(character ? character->length : 1);
  }
  return safe;
}

}  // namespace rimeward
