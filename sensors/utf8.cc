#include "sensors/utf8.h"

#include <array>
#include <cstdint>

namespace rimeward {
namespace {

// The least code that needs so many bytes; a smaller one written with as many is refused.
constexpr std::array<std::uint32_t, 5> kLeastCode{0, 0, 0x80, 0x800, 0x10000};

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

}  // namespace

std::optional<Utf8Character> first_character(std::string_view text) {
  const std::uint32_t lead = byte_at(text, 0);
  const std::size_t length = sequence_length(lead);
  if (length == 0 || length > text.size()) return std::nullopt;
  if (length == 1) return Utf8Character{static_cast<char32_t>(lead), 1};
  std::uint32_t code = lead & (0x7fU >> length);
  for (std::size_t i = 1; i < length; ++i) {
    const std::uint32_t next = byte_at(text, i);
    if ((next & 0xc0U) != 0x80U) return std::nullopt;
    code = (code << 6U) | (next & 0x3fU);
  }

  const bool surrogate = code >= 0xd800 && code <= 0xdfff;
  if (code < kLeastCode.at(length) || code > 0x10ffff || surrogate) return std::nullopt;
  return Utf8Character{static_cast<char32_t>(code), length};
}

}  // namespace rimeward
