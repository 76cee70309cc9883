#include <string>

#include <doctest/doctest.h>

#include "tools/cli/screen.h"
#include "tools/cli/table.h"

namespace rimeward {
namespace {

const Screen kUtf8{};
const Screen kAscii{.width = 80, .colour = false, .utf8 = false};

TEST_CASE("nothing that steers a terminal gets through") {
  struct Row {
    const char* text;
    const char* shown;
  };
  const Row rows[] = {
      {"North frame", "North frame"},
      {"\x1b[31mred\x1b[0m", "\\x1b[31mred\\x1b[0m"},  // ECMA-48, the CSI sequences
      {"a\rb\nc\td", "a\\x0db\\x0ac\\x09d"},
      {"del\x7f", "del\\x7f"},
      {"\xc2\x9b"
       "31m",
       "\\u{9b}31m"},  // C1 control CSI, as UTF-8
      {"\xe2\x80\xae"
       "desrever",
       "\\u{202e}desrever"},  // right-to-left override
      {"\xef\xbb\xbfmark", "\\u{feff}mark"},
      {"latin-1 \xe4", "latin-1 \\xe4"},
      {"\xc0\xaf", "\\xc0\\xaf"},                    // overlong form of "/"
      {"\xed\xa0\x80", "\\xed\\xa0\\x80"},           // a surrogate
      {"\xf4\x90\x80\x80", "\\xf4\\x90\\x80\\x80"},  // past U+10FFFF
      {"cut \xe2\x82", "cut \\xe2\\x82"},
      {"Kr\xc3\xa4uter 21 \xc2\xb0"
       "C",
       "Kr\xc3\xa4uter 21 \xc2\xb0"
       "C"},
  };
  for (const Row& row : rows)
    CHECK(printable(row.text, kUtf8) == row.shown);
}

TEST_CASE("without UTF-8 every character shown is ASCII") {
  CHECK(printable("Kräuterbeet 4.6 °C – heute …", kAscii) ==
        "Kraeuterbeet 4.6 C - heute ...");
  CHECK(printable("北の床", kAscii) == "???");
  for (const char c : printable("Ærø šč 🥕 “a”", kAscii)) {
    CHECK(static_cast<unsigned char>(c) < 0x80);
  }
}

TEST_CASE("width counts columns, not bytes") {
  CHECK(display_width("yard") == 4);
  CHECK(display_width("°C") == 2);
  // Unicode Standard Annex 11: East Asian wide characters take two columns.
  CHECK(display_width("温室") == 4);
  CHECK(display_width("e\xcc\x81") == 1);  // a combining acute accent
  CHECK(display_width("🥕") == 2);
}

TEST_CASE("lines break at spaces, and long words where the width ends") {
  using Lines = std::vector<std::string>;
  CHECK(wrapped("", 10) == Lines{""});
  CHECK(wrapped("on while it is warm", 8) == Lines{"on while", "it is", "warm"});
  CHECK(wrapped("abcdefghij", 4) == Lines{"abcd", "efgh", "ij"});
  CHECK(wrapped("温室温室", 5) == Lines{"温室", "温室"});
  CHECK(wrapped("a  b", 10) == Lines{"a b"});
}

TEST_CASE("colour adds escape sequences and takes no word away") {
  const Screen colour{.width = 80, .colour = true, .utf8 = true};
  CHECK(styled("silent", Style::kUrgent, kUtf8) == "silent");
  CHECK(styled("silent", Style::kUrgent, colour) == "\x1b[1;33msilent\x1b[0m");
}

TEST_CASE("columns line up by display width and escape what a name smuggles in") {
  Table table({{.heading = "place"},
               {.heading = "air °C", .align = Column::Align::kRight},
               {.heading = "note"}});
  table.add_row({{"温室"}, {"4.6"}, {""}});
  table.add_row({{"a\x1b[2Jb"}, {"-12.3"}, {""}});
  CHECK(table.text(kUtf8) ==
        "place      air °C\n"
        "温室          4.6\n"
        "a\\x1b[2Jb   -12.3\n");
}

TEST_CASE("a table too wide for the screen becomes paragraphs with all its cells") {
  Table table({{.heading = "place"}, {.heading = "low °C"}, {.heading = "at"}});
  table.add_row({{"North frame"}, {"-1.2"}, {"06:20"}});
  CHECK(table.text({.width = 22, .colour = false, .utf8 = true}) ==
        "North frame\n"
        "  low °C -1.2; at\n"
        "  06:20\n");
}

}  // namespace
}  // namespace rimeward
