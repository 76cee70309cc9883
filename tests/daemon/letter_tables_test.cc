#include "daemon/letter_tables.h"

#include <doctest/doctest.h>

#include "daemon/base/columns.h"

using namespace rimeward;

TEST_CASE("columns stand by what is seen, not by bytes") {
  LetterColumn numbers{"low", "-1,5", "10,0"};
  align_right(numbers);
  CHECK(table_text({{"Ort", "Kürbisbeet", "温室"}, numbers}, 2) ==
        "  Ort          low\n"
        "  Kürbisbeet  -1,5\n"
        "  温室        10,0");
}

TEST_CASE("a table that is too wide lets its first column wrap, and keeps the others") {
  const std::string wide(50, 'x');
  CHECK(table_text({{"The long frame by the wall", "Yard"}, {wide, "-"}}, 2) ==
        "  The long frame by   " + wide +
            "\n"
            "  the wall\n"
            "  Yard                -");
}

TEST_CASE("the lines of a table and a list begin with two spaces and end with none") {
  CHECK(table_text({{"", "a"}, {"", "b"}}, 2) == "  \n  a  b");
  CHECK(list_text(std::vector<std::string>{}) == "");
}

TEST_CASE("what is long in a list goes on below, set in") {
  const std::vector<std::string> items{
      "Fleece the north frame tonight, with two layers if there are two to be had, by "
      "19:20",
      "Look at the water in the yard"};
  CHECK(list_text(items) ==
        "  Fleece the north frame tonight, with two layers if there are two to\n"
        "    be had, by 19:20\n"
        "  Look at the water in the yard");
}

TEST_CASE("a line end in a name or a reason breaks no table and no list") {
  CHECK(table_text({{"one\ntwo"}}, 2) == "  one two");
  CHECK(list_text(std::vector<std::string>{"one\r\ntwo\tthree"}) == "  one two three");
}

TEST_CASE("between paragraphs there is one empty line, whatever is left out") {
  CHECK(letter_text(std::vector<std::string>{"", "one", "", "  two", ""}) ==
        "one\n\n  two");
}
