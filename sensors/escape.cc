#include "sensors/escape.h"

#include <array>
#include <cstdint>
#include <optional>

#include <fmt/format.h>

namespace rimeward {
namespace {

// The least code that needs so many bytes; a smaller one written with as many is refused.
constexpr std::array<std::uint32_t, 5> kLeastCode{0, 0, 0x80, 0x800, 0x10000};

struct Character {
  char32_t code;
  std::size_t length;  // in bytes
};

constexpr std::uint32_t byte_at(std::string_view text, std::size_t index) {
  return static_cast<unsigned char>(text[index]);
}

// How many bytes a sequence that begins with `lead` has, by RFC 3629 section 3; 0 for a
// byte that begins none.
constexpr std::size_t sequence_length(std::uint32_t lead) {
  if (lead < 0x80) return 1;
  if (lead >= 0xc2 && lead <= 0xdf) return 2;
  if (lead >= 0xe0 && lead <= 0xef) return 3;
  if (lead >= 0xf0 && lead <= 0xf4) return 4;
  return 0;
}

// The UTF-8 character that `text` begins with, or nothing when its bytes are not one.
std::optional<Character> first_character(std::string_view text) {
  const std::uint32_t lead = byte_at(text, 0);
  const std::size_t length = sequence_length(lead);
  if (length == 0 || length > text.size()) return std::nullopt;
  if (length == 1) return Character{static_cast<char32_t>(lead), 1};
  std::uint32_t code = lead & (0x7fU >> length);
  for (std::size_t i = 1; i < length; ++i) {
    const std::uint32_t next = byte_at(text, i);
    if ((next & 0xc0U) != 0x80U) return std::nullopt;
    code = (code << 6U) | (next & 0x3fU);
  }

  const bool surrogate = code >= 0xd800 && code <= 0xdfff;
  if (code < kLeastCode.at(length) || code > 0x10ffff || surrogate) return std::nullopt;
  return Character{static_cast<char32_t>(code), length};
}

constexpr bool turns_or_hides(char32_t code) {
  return (code >= 0x80 && code < 0xa0) || code == 0xad || code == 0x61c ||
         (code >= 0x200b && code <= 0x200f) || (code >= 0x2028 && code <= 0x202e) ||
         (code >= 0x2060 && code <= 0x206f) || code == 0xfeff;
}

std::string shown(std::string_view text, const std::optional<Character>& character) {
  if (!character) return fmt::format("\\x{:02x}", byte_at(text, 0));
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
