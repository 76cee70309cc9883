#include "sensors/escape.h"

#include <doctest/doctest.h>

namespace rimeward {
namespace {

TEST_CASE("plain text and letters of any script pass through") {
  CHECK(escaped("21.5 °C, Frühbeet 温室 🌱") == "21.5 °C, Frühbeet 温室 🌱");
  CHECK(escaped("").empty());
}

TEST_CASE("what could steer a terminal or forge a line is written out") {
  using namespace std::string_view_literals;
  CHECK(escaped("a\nb\rc\td") == "a\\nb\\rc\\td");
  CHECK(escaped("\x1b[2J\x7f\0x"sv) == "\\x1b[2J\\x7f\\x00x");
  CHECK(escaped("say \"hi\" \\ no") == "say \\\"hi\\\" \\\\ no");
  CHECK(escaped("\u009b1m") == "\\u009b1m");  // the one-character CSI
  CHECK(escaped("a\u202eb\u200bc\ufeff") == "a\\u202eb\\u200bc\\ufeff");
}

TEST_CASE("bytes that are not UTF-8 are written as bytes") {
  // Ill-formed sequences of RFC 3629, section 3: stray continuation, over-long forms,
  // surrogates, past U+10FFFF, cut short.
  CHECK(escaped("\x80") == "\\x80");
  CHECK(escaped("\xc0\xaf") == "\\xc0\\xaf");
  CHECK(escaped("\xe0\x80\xaf") == "\\xe0\\x80\\xaf");
  CHECK(escaped("\xed\xa0\x80") == "\\xed\\xa0\\x80");
  CHECK(escaped("\xf4\x90\x80\x80") == "\\xf4\\x90\\x80\\x80");
  CHECK(escaped("\xe2\x82") == "\\xe2\\x82");
  CHECK(escaped("\xff"
                "a") == "\\xffa");
}

TEST_CASE("long text is cut by characters, never inside one") {
  CHECK(escaped("abcdef", 6) == "abcdef");
  CHECK(escaped("abcdefg", 6) == "abcdef...");
  CHECK(escaped("°°°°", 3) == "°°°...");
  CHECK(escaped(std::string(1000, 'x')) == std::string(40, 'x') + "...");
}

}  // namespace
}  // namespace rimeward
