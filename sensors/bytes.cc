#include "sensors/bytes.h"

#include <cstddef>
#include <cstdint>

namespace rimeward {
namespace {

constexpr std::string_view kSeparators = " :-";
constexpr std::uint32_t kBitsOfByte = 8;
constexpr std::uint32_t kBitsOfLetter = 6;  // of base64

std::optional<std::uint32_t> hex_digit(char c) {
  if (c >= '0' && c <= '9') return static_cast<std::uint32_t>(c - '0');
  if (c >= 'a' && c <= 'f') return static_cast<std::uint32_t>(c - 'a' + 10);
  if (c >= 'A' && c <= 'F') return static_cast<std::uint32_t>(c - 'A' + 10);
  return std::nullopt;
}

std::optional<char> hex_byte(std::string_view two) {
  if (two.size() != 2) return std::nullopt;
  const auto high = hex_digit(two[0]);
  const auto low = hex_digit(two[1]);
  if (!high || !low) return std::nullopt;
  return static_cast<char>(*high << 4U | *low);
}

std::optional<std::uint32_t> base64_letter(char c) {
  if (c >= 'A' && c <= 'Z') return static_cast<std::uint32_t>(c - 'A');
  if (c >= 'a' && c <= 'z') return static_cast<std::uint32_t>(c - 'a' + 26);
  if (c >= '0' && c <= '9') return static_cast<std::uint32_t>(c - '0' + 52);
  if (c == '+' || c == '-') return 62;
  if (c == '/' || c == '_') return 63;
  return std::nullopt;
}

// The text without its padding; nothing where there is some that completes no group of
// four.
std::optional<std::string_view> without_padding(std::string_view text) {
  std::string_view bare = text;
  while (bare.ends_with('=') && text.size() - bare.size() < 2)
    bare.remove_suffix(1);
  if (bare.size() != text.size() && text.size() % 4 != 0) return std::nullopt;
  return bare;
}

}  // namespace

std::optional<std::string> bytes_from_hex(std::string_view text) {
  if (text.starts_with("0x") || text.starts_with("0X")) text.remove_prefix(2);
  const bool spaced =
      text.size() > 2 && kSeparators.find(text[2]) != std::string_view::npos;
  const std::size_t step = spaced ? 3 : 2;
  std::string bytes;
  for (std::size_t i = 0; i < text.size(); i += step) {
    const auto byte = hex_byte(text.substr(i, 2));
    if (!byte) return std::nullopt;
    bytes += *byte;
    const std::string_view after = text.substr(i + 2);
    // Another byte must follow a separator.
    if (spaced && !after.empty() && (after[0] != text[2] || after.size() == 1)) {
      return std::nullopt;
    }
  }
  return bytes;
}

std::optional<std::string> bytes_from_base64(std::string_view text) {
  const auto letters = without_padding(text);
  if (!letters || letters->size() % 4 == 1) return std::nullopt;
  std::string bytes;
  std::uint32_t pending = 0;
  std::uint32_t bits = 0;  // of `pending` that belong to no byte yet
  for (const char c : *letters) {
    const auto letter = base64_letter(c);
    if (!letter) return std::nullopt;
    pending = pending << kBitsOfLetter | *letter;
    bits += kBitsOfLetter;
    if (bits < kBitsOfByte) continue;
    bits -= kBitsOfByte;
    bytes += static_cast<char>(pending >> bits);
    pending &= (1U << bits) - 1;
  }
  if (pending != 0) return std::nullopt;
  return bytes;
}

}  // namespace rimeward
