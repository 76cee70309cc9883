#include "sensors/bytes.h"

#include <random>
#include <string>
#include <utility>

#include <doctest/doctest.h>

namespace rimeward {
namespace {

using namespace std::string_literals;

TEST_CASE("hex text is its bytes, in either case, with separators or without") {
  const std::string bytes = "\x40\x02\xca\x09"s;
  for (const char* text :
       {"4002ca09", "4002CA09", "4002Ca09", "0x4002ca09", "0X4002ca09", "40 02 ca 09",
        "40:02:ca:09", "40-02-CA-09", "0x40 02 ca 09"}) {
    CAPTURE(text);
    CHECK(bytes_from_hex(text) == bytes);
  }
  CHECK(bytes_from_hex("ff") == "\xff"s);
  CHECK(bytes_from_hex("00") == "\0"s);
  CHECK(bytes_from_hex("") == "");
}

TEST_CASE("what is not hex to its end is no bytes") {
  for (const char* text :
       {"4", "400", "4g", "40 ", " 40", "40 02 ", "40 0", "40 02:ca", "40  02", "40 2",
        "4002 ca", "0x4", "0x0x40", "40\n", "4002cä", "-40", "21.5", "40,02"}) {
    CAPTURE(text);
    CHECK_FALSE(bytes_from_hex(text));
  }
  CHECK_FALSE(bytes_from_hex("40\0"s));
}

TEST_CASE("base64 text is its bytes, as RFC 4648 prints them") {
  // RFC 4648, section 10 (from memory).
  const std::pair<const char*, const char*> rows[] = {{"", ""},
                                                      {"Zg==", "f"},
                                                      {"Zm8=", "fo"},
                                                      {"Zm9v", "foo"},
                                                      {"Zm9vYg==", "foob"},
                                                      {"Zm9vYmE=", "fooba"},
                                                      {"Zm9vYmFy", "foobar"}};
  for (const auto& [text, bytes] : rows) {
    CAPTURE(text);
    CHECK(bytes_from_base64(text) == bytes);
    const std::string padded = text;
    CHECK(bytes_from_base64(padded.substr(0, padded.find('='))) == bytes);
  }
  CHECK(bytes_from_base64("+/+/") == "\xfb\xff\xbf"s);
  CHECK(bytes_from_base64("-_-_") == "\xfb\xff\xbf"s);
  CHECK(bytes_from_base64("AAAA") == "\0\0\0"s);
}

TEST_CASE("what is not base64 to its end is no bytes") {
  for (const char* text :
       {"Z", "Zm9vY", "Zg=", "Zm8==", "Zm9v=", "Zm9v==", "Zm9v====", "====", "=",
        "Z===", "Zg==Zg==", "Zm9v\nYmFy", "Zm 9v", "Zm9\xc3\xa4", "21.5", "{}",
        // Bits left over: "Zh==" would be "f", too.
        "Zh==", "Zh", "Zm9=", "Zm9"}) {
    CAPTURE(text);
    CHECK_FALSE(bytes_from_base64(text));
  }
  CHECK_FALSE(bytes_from_base64("Zg=\0"s));
}

// The other way round, bit by bit.
std::string base64_of(const std::string& bytes) {
  constexpr std::string_view kLetters =
      "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
  std::string text;
  for (std::size_t bit = 0; bit < bytes.size() * 8; bit += 6) {
    std::size_t letter = 0;
    for (std::size_t i = bit; i < bit + 6; ++i) {
      const bool inside = i < bytes.size() * 8;
      const auto byte = inside ? static_cast<unsigned char>(bytes[i / 8]) : 0U;
      letter = letter * 2 + (byte >> (7 - i % 8) & 1U);
    }
    text += kLetters[letter];
  }
  return text;
}

TEST_CASE("any bytes come back from base64, and from hex") {
  std::mt19937 random(4648);  // fixed, so that a failure comes again
  for (std::size_t length = 0; length < 200; ++length) {
    std::string bytes;
    std::string hex;
    for (std::size_t i = 0; i < length; ++i) {
      const auto byte = static_cast<unsigned char>(random() % 256);
      bytes += static_cast<char>(byte);
      hex += "0123456789abcdef"[byte / 16];
      hex += "0123456789abcdef"[byte % 16];
    }
    CAPTURE(hex);
    CHECK(bytes_from_hex(hex) == bytes);
    std::string text = base64_of(bytes);
    CHECK(bytes_from_base64(text) == bytes);
    text.resize((text.size() + 3) / 4 * 4, '=');
    CHECK(bytes_from_base64(text) == bytes);
  }
}

}  // namespace
}  // namespace rimeward
