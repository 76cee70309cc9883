#include "daemon/post/mime.h"

#include <algorithm>
#include <string>

#include <doctest/doctest.h>

namespace rimeward {
namespace {

using namespace std::string_view_literals;

TEST_CASE("base64 is as RFC 4648, section 10, has it") {
  struct Case {
    const char* bytes;
    const char* text;
  };
  for (const auto& [bytes, text] :
       {Case{"f", "Zg==\r\n"}, Case{"fo", "Zm8=\r\n"}, Case{"foo", "Zm9v\r\n"},
        Case{"foob", "Zm9vYg==\r\n"}, Case{"fooba", "Zm9vYmE=\r\n"},
        Case{"foobar", "Zm9vYmFy\r\n"}}) {
    CAPTURE(bytes);
    CHECK(base64_lines(bytes) == text);
  }
  CHECK(base64_lines("").empty());
  CHECK(base64_lines("\xff\xfe\x00"sv) == "//4A\r\n");
}

TEST_CASE("base64 has lines of 76 characters") {
  const std::string lines = base64_lines(std::string(57 * 2 + 1, 'x'));
  CHECK(lines.size() == 76 + 2 + 76 + 2 + 4 + 2);
  CHECK(lines.substr(76, 2) == "\r\n");
  CHECK(lines.substr(154, 2) == "\r\n");
}

TEST_CASE("short ASCII stands in a header as it is") {
  CHECK(header_text("Fleece the north frame, by 19:20") ==
        "Fleece the north frame, by 19:20");
  CHECK(header_text("").empty());
  CHECK(display_name("The \"old\" garden \\ shed") == R"("The \"old\" garden \\ shed")");
}

TEST_CASE("other text stands in a header as encoded words") {
  CHECK(header_text("Höhe") == "=?UTF-8?B?SMO2aGU=?=");
  CHECK(display_name("Höhe") == "=?UTF-8?B?SMO2aGU=?=");
  // What a reader would decode, though nobody encoded it.
  CHECK(header_text("=?UTF-8?B?SGk=?=") == "=?UTF-8?B?PT9VVEYtOD9CP1NHaz0/PQ==?=");
}

TEST_CASE("a long header is folded into words of whole characters") {
  std::string snow;
  for (int i = 0; i < 40; ++i)
    snow += "☃";  // three bytes each
  const std::string text = header_text("x" + snow);
  std::size_t from = 0;
  int words = 0;
  while (from < text.size()) {
    const std::size_t end = std::min(text.find("\r\n", from), text.size());
    CHECK(end - from <= 65);
    ++words;
    from = end + 2;
  }
  // "x" and twelve of them, then thirteen, thirteen and two: 39 bytes would cut one.
  CHECK(words == 4);
  CHECK(text.starts_with(
      "=?UTF-8?B?eOKYg+KYg+KYg+KYg+KYg+KYg+KYg+KYg+KYg+KYg+KYg+KYgw==?="));
}

TEST_CASE("nothing ends a header before its time") {
  const auto hostile = "a\r\nBcc: b@example.org\n\rc\0d\x7f"sv;
  for (const std::string& text :
       {header_text(hostile), display_name(hostile), header_ascii(hostile)}) {
    CAPTURE(text);
    CHECK(text.find_first_of("\r\n\0\x7f"sv) == std::string::npos);
  }
  CHECK(header_text("a\r\nb") == "a  b");
  CHECK(display_name("a\nb") == "\"a b\"");
  CHECK(header_ascii("ä\n") == "?? ");
  // The only line ends are folds, which a space follows.
  const std::string folded = header_text(std::string(200, '\n') + "ä");
  for (std::size_t at = folded.find('\n'); at != std::string::npos;
       at = folded.find('\n', at + 1)) {
    CHECK(folded[at - 1] == '\r');
    CHECK(folded[at + 1] == ' ');
  }
}

}  // namespace
}  // namespace rimeward
