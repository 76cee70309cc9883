#include "daemon/post/paragraphs.h"

#include <doctest/doctest.h>

namespace rimeward {
namespace {

using namespace std::string_view_literals;
using All = std::vector<Paragraph>;

TEST_CASE("an empty line ends a paragraph, and lines with two spaces are a table") {
  CHECK(paragraphs("one\ntwo\n\n  a   1\n  b   2\n\nthree") ==
        All{{{"one", "two"}, false}, {{"  a   1", "  b   2"}, true}, {{"three"}, false}});
}

TEST_CASE("a paragraph with one line that is not set in is no table") {
  CHECK(paragraphs("  a\nb") == All{{{"  a", "b"}, false}});
}

TEST_CASE("all ends of lines are ends, and other controls are spaces") {
  CHECK(paragraphs("a\r\nb\rc\n\r\nd\te\0f"sv) ==
        All{{{"a", "b", "c"}, false}, {{"d e f"}, false}});
}

TEST_CASE("text of nothing but empty lines has no paragraphs") {
  CHECK(paragraphs("").empty());
  CHECK(paragraphs("\n\n  \n \r\n").empty());
}

}  // namespace
}  // namespace rimeward
