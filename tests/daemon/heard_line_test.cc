#include "daemon/heard_line.h"

#include <random>
#include <string>

#include <doctest/doctest.h>

namespace rimeward {
namespace {

std::string without_newline(std::string line) {
  REQUIRE(line.ends_with('\n'));
  line.pop_back();
  return line;
}

TEST_CASE("a heard line is readable where the message is") {
  CHECK(to_line({.kind = HeardLine::Kind::kConnected}) == "{\"connected\":true}\n");
  CHECK(to_line({.kind = HeardLine::Kind::kTrouble, .trouble = "no answer"}) ==
        "{\"trouble\":\"no answer\"}\n");
  CHECK(to_line({.kind = HeardLine::Kind::kMessage,
                 .topic = "garden/yard/climate",
                 .payload = "{\"t\": 3}",
                 .retained = true}) ==
        "{\"topic\":\"garden/yard/climate\",\"payload\":\"{\\\"t\\\": 3}\","
        "\"retained\":true}\n");
  CHECK(to_line({.kind = HeardLine::Kind::kTrouble, .trouble = "\xc3\xa4"}) ==
        "{\"trouble\":\"\\u00c3\\u00a4\"}\n");
}

TEST_CASE("topics and payloads of any bytes survive a heard line") {
  std::mt19937 random(3);
  for (int round = 0; round < 500; ++round) {
    HeardLine line{.kind = HeardLine::Kind::kMessage};
    for (std::size_t i = random() % 40; i > 0; --i) {
      line.topic += static_cast<char>(random() % 256);
      line.payload += static_cast<char>(random() % 256);
    }
    line.retained = random() % 2 == 0;
    const std::string text = without_newline(to_line(line));
    CHECK(text.find('\n') == std::string::npos);
    const auto read = heard_line_from_text(text);
    REQUIRE(read);
    CHECK(*read == line);
  }
}

TEST_CASE("what is no heard line is refused") {
  for (const char* text :
       {"", "rimewardd: what?", "{}", "[]", "{\"connected\":false}", "{\"topic\":\"a\"}",
        "{\"topic\":1,\"payload\":\"\"}", "{\"topic\":\"\xc4\x80\",\"payload\":\"\"}",
        "{\"connected\":true"}) {
    CAPTURE(text);
    CHECK_FALSE(heard_line_from_text(text));
  }
}

}  // namespace
}  // namespace rimeward
