#include "sensors/json_pointer.h"

#include <doctest/doctest.h>

namespace rimeward {
namespace {

using Tokens = std::vector<std::string>;

TEST_CASE("the pointers of RFC 6901, section 5, lead through the keys it says") {
  CHECK(pointer_tokens("") == Tokens{});
  CHECK(pointer_tokens("/foo") == Tokens{"foo"});
  CHECK(pointer_tokens("/foo/0") == Tokens{"foo", "0"});
  CHECK(pointer_tokens("/") == Tokens{""});
  CHECK(pointer_tokens("/a~1b") == Tokens{"a/b"});
  CHECK(pointer_tokens("/c%d") == Tokens{"c%d"});
  CHECK(pointer_tokens("/i\\j") == Tokens{"i\\j"});
  CHECK(pointer_tokens("/k\"l") == Tokens{"k\"l"});
  CHECK(pointer_tokens("/ ") == Tokens{" "});
  CHECK(pointer_tokens("/m~0n") == Tokens{"m~n"});
}

TEST_CASE("~01 is ~1 and not a slash") {
  // RFC 6901, section 4: ~1 is decoded before ~0.
  CHECK(pointer_tokens("/~01") == Tokens{"~1"});
}

TEST_CASE("what is no pointer is told apart from one that finds nothing") {
  for (const std::string_view text :
       {"foo", "foo/bar", "#/foo", " /foo", "/m~2n", "/m~", "~0"}) {
    CAPTURE(text);
    CHECK_FALSE(pointer_tokens(text));
  }
}

}  // namespace
}  // namespace rimeward
