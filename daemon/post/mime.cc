#include "daemon/post/mime.h"

#include <algorithm>
#include <cstddef>
#include <cstdint>

#include "daemon/post/paragraphs.h"

namespace rimeward {
namespace {

constexpr std::string_view kEnd = "\r\n";
constexpr std::size_t kLineBytes = 57;  // as base64: 76 characters, RFC 2045's most
// An encoded word has at most 75 characters (RFC 2047, section 2), and the first one
// stands on a line with "Subject: ". As base64, with what is around it: 64.
constexpr std::size_t kWordBytes = 39;
constexpr std::size_t kPlainText = 60;

std::string base64(std::string_view bytes) {
  constexpr std::string_view kDigits =
      "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
  std::string text;
  for (std::size_t at = 0; at < bytes.size(); at += 3) {
    const std::string_view group = bytes.substr(at, 3);
    std::uint32_t bits = 0;
    for (std::size_t i = 0; i < 3; ++i) {
      const std::uint32_t byte =
          i < group.size() ? static_cast<unsigned char>(group[i]) : 0;
      bits = (bits << 8U) | byte;
    }
    for (std::size_t i = 0; i < 4; ++i)
      text += i <= group.size() ? kDigits[(bits >> (18 - 6 * i)) & 0x3fU] : '=';
  }
  return text;
}

bool is_printable_ascii(char c) {
  return c >= 0x20 && c < 0x7f;
}

// Whether a reader of mail takes it for what it is.
bool is_plain(std::string_view text) {
  return text.size() <= kPlainText && std::ranges::all_of(text, is_printable_ascii) &&
         !text.starts_with(' ') && !text.ends_with(' ') &&
         text.find("=?") == std::string_view::npos;
}

// How much of the text one encoded word takes: whole UTF-8 characters.
std::size_t word_length(std::string_view text) {
  if (text.size() <= kWordBytes) return text.size();
  const auto continues = [&](std::size_t at) {
    return (static_cast<unsigned char>(text[at]) & 0xc0U) == 0x80U;
  };
  std::size_t length = kWordBytes;
  while (length > kWordBytes - 3 && continues(length))
    --length;
  return length;
}

std::string encoded_words(std::string_view text) {
  std::string words;
  while (!text.empty()) {
    const std::size_t length = word_length(text);
    if (!words.empty()) words += "\r\n ";
    words += "=?UTF-8?B?" + base64(text.substr(0, length)) + "?=";
    text.remove_prefix(length);
  }
  return words;
}

}  // namespace

std::string base64_lines(std::string_view bytes) {
  std::string lines;
  for (; !bytes.empty(); bytes.remove_prefix(std::min(kLineBytes, bytes.size()))) {
    lines += base64(bytes.substr(0, kLineBytes));
    lines += kEnd;
  }
  return lines;
}

std::string header_text(std::string_view text) {
  std::string safe = one_line(text);
  return is_plain(safe) ? safe : encoded_words(safe);
}

std::string display_name(std::string_view text) {
  const std::string safe = one_line(text);
  if (!is_plain(safe)) return encoded_words(safe);
  std::string quoted = "\"";
  for (const char c : safe) {
    if (c == '"' || c == '\\') quoted += '\\';
    quoted += c;
  }
  return quoted + '"';
}

std::string header_ascii(std::string_view text) {
  std::string safe = one_line(text);
  std::ranges::replace_if(
      safe, [](char c) { return !is_printable_ascii(c); }, '?');
  return safe;
}

}  // namespace rimeward
