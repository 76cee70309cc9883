#include "daemon/base/keys.h"

#include <array>

#include <doctest/doctest.h>

namespace rimeward {
namespace {

using namespace std::chrono_literals;
using Messages = std::vector<std::string>;

constexpr Range kAny{-1e9, 1e9};

TEST_CASE("values come back as they stand in the file") {
  Mistakes mistakes("x.toml");
  auto file = Keys::of_text(
      "[t]\na = \"Frühbeet\"\nb = 2\nc = 2.5\nd = \"90 min\"\n"
      "e = \"23:59\"\nf = [\"one\", \"two\"]\ng = \"second\"\nh = false\n",
      mistakes);
  REQUIRE(file);
  Keys keys = file->table("t");
  CHECK(keys.text("a") == "Frühbeet");
  CHECK(keys.whole("b", kAny) == 2);
  CHECK(keys.number("b", kAny) == 2.0);
  CHECK(keys.number("c", kAny) == 2.5);
  CHECK(keys.duration("d", {0ms, 2h}) == 90min);
  CHECK(keys.time_of_day("e") == 23h + 59min);
  CHECK(keys.list("f") == std::vector<std::string>{"one", "two"});
  constexpr std::array<std::string_view, 2> kWords{"first", "second"};
  CHECK(keys.choice("g", kWords) == 1U);
  CHECK(keys.flag("h") == false);
  keys.refuse_unread();
  file->refuse_unread();
  CHECK(mistakes.in_order_of_lines().empty());
}

TEST_CASE("an absent key is nothing, and no mistake unless it is required") {
  Mistakes mistakes("x.toml");
  auto file = Keys::of_text("\n[t]\n", mistakes);
  REQUIRE(file);
  Keys keys = file->table("t");
  CHECK_FALSE(keys.text("a"));
  CHECK_FALSE(keys.number("b", kAny));
  CHECK_FALSE(keys.list("c"));
  CHECK_FALSE(keys.flag("d").has_value());
  CHECK_FALSE(keys.has("a"));
  CHECK_FALSE(file->table("u").text("a"));
  CHECK(file->tables("v").empty());
  CHECK(mistakes.empty());
  keys.require("a", "write it");
  CHECK(mistakes.in_order_of_lines() == Messages{"x.toml:2: [t] a: missing; write it"});
}

TEST_CASE("only true and false themselves are a flag") {
  Mistakes mistakes("x.toml");
  auto file = Keys::of_text("a = true\nb = \"false\"\nc = 0\n", mistakes);
  REQUIRE(file);
  CHECK(file->flag("a") == true);
  CHECK_FALSE(file->flag("b").has_value());
  CHECK_FALSE(file->flag("c").has_value());
  CHECK(mistakes.in_order_of_lines() ==
        Messages{"x.toml:2: b: expected true or false, without quotes, got \"false\"",
                 "x.toml:3: c: expected true or false, without quotes, got 0"});
}

TEST_CASE("the limits of a range are within it") {
  Mistakes mistakes("x.toml");
  auto file = Keys::of_text(
      "a = -1\nb = 1\nc = 1.0000001\nd = inf\ne = 9223372036854775807\n", mistakes);
  REQUIRE(file);
  CHECK(file->number("a", {-1, 1}) == -1.0);
  CHECK(file->number("b", {-1, 1}) == 1.0);
  CHECK_FALSE(file->number("c", {-1, 1}));
  CHECK_FALSE(file->number("d", kAny));
  CHECK_FALSE(file->whole("e", kAny));
  CHECK(
      mistakes.in_order_of_lines() ==
      Messages{"x.toml:3: c: expected -1 to 1, got 1.0000001",
               "x.toml:4: d: expected -1000000000 to 1000000000, got inf",
               "x.toml:5: e: expected a whole number from -1000000000 to 1000000000, got "
               "9223372036854775807"});
}

TEST_CASE("tables of one name come in the file's order, also those written in one line") {
  Mistakes mistakes("x.toml");
  auto file = Keys::of_text("[[t]]\na = \"1\"\n[[t]]\na = \"2\"\n", mistakes);
  auto inline_file = Keys::of_text("t = [{a = \"1\"}, {a = \"2\"}]", mistakes);
  REQUIRE((file && inline_file));
  for (Keys* keys : {&*file, &*inline_file}) {
    auto tables = keys->tables("t");
    REQUIRE(tables.size() == 2);
    CHECK(tables[0].text("a") == "1");
    CHECK(tables[1].text("a") == "2");
  }
  CHECK(mistakes.empty());
}

TEST_CASE("a key that nobody asked for is a mistake, once all have asked") {
  Mistakes mistakes("x.toml");
  auto file =
      Keys::of_text("name = \"a\"\nnmae = \"b\"\n\"e\\u001bvil\" = 1\n", mistakes);
  REQUIRE(file);
  CHECK(file->text("name") == "a");
  CHECK(mistakes.empty());
  file->refuse_unread();
  CHECK(mistakes.in_order_of_lines() ==
        Messages{"x.toml:2: nmae: unknown key; did you mean \"name\"?",
                 "x.toml:3: e\\x1bvil: unknown key; known: name"});
}

TEST_CASE("a key that may not stand with another is refused in place") {
  Mistakes mistakes("x.toml");
  auto file = Keys::of_text("a = 1\n", mistakes);
  REQUIRE(file);
  file->refuse("b", "is for others");
  CHECK(mistakes.empty());
  file->refuse("a", "is for others");
  file->refuse_unread();
  CHECK(mistakes.in_order_of_lines() == Messages{"x.toml:1: a: is for others"});
}

}  // namespace
}  // namespace rimeward
