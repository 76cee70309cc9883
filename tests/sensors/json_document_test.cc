#include "sensors/json_document.h"

#include <array>
#include <string>

#include <doctest/doctest.h>

#include "sensors/iso_time.h"

namespace rimeward {
namespace {

using namespace std::string_view_literals;
using nlohmann::json;

constexpr std::array kKeys{"temperature"sv, "t"sv};

json document(std::string_view text) {
  const auto parsed = parsed_json(text);
  REQUIRE(parsed);
  return *parsed;
}

bool is_number(const json& value) {
  return value.is_number();
}

TEST_CASE("a document is all of the payload, of bounded size and depth") {
  CHECK(document(" [1, 2]\n").size() == 2);
  CHECK(document(R"({"a": 1, "a": 2})")["a"] == 2);
  CHECK(parsed_json("").error().message == "the payload is empty");
  CHECK(parsed_json("{} {}").error().message == "not JSON: byte 4 of 5, near \"{} {}\"");
  CHECK(parsed_json("{}\0{}"sv).error().message ==
        "not JSON: byte 3 of 5, near \"{}\\x00{}\"");
  CHECK(parsed_json(std::string(33, '[')).error().message == "nested more than 32 deep");
  CHECK(parsed_json(std::string(65'537, ' ')).error().message ==
        "payload of 65537 bytes: more than 65536");
  CHECK(parsed_json("1e400").error().message ==
        "not JSON that can be read: a number beyond all range");
}

TEST_CASE("a pointer leads to a value, to nothing, or is none") {
  // The document is that of RFC 6901, section 5, in part.
  const json root = document(R"({"foo": ["bar", "baz"], "": 0, "a/b": 1, "m~n": 8,
                                 "none": null})");
  CHECK(**value_at(root, "/foo/1") == "baz");
  CHECK(**value_at(root, "/") == 0);
  CHECK(**value_at(root, "/a~1b") == 1);
  CHECK(**value_at(root, "/m~0n") == 8);
  CHECK(*value_at(root, "") == &root);
  for (const auto nothing : {"/x"sv, "/foo/2"sv, "/foo/01"sv, "/foo/bar"sv, "/none"sv,
                             "/foo/0/x"sv, "/none/x"sv}) {
    CAPTURE(nothing);
    CHECK(*value_at(root, nothing) == nullptr);
  }
  CHECK(value_at(root, "foo").error().message == "\"foo\" is no JSON pointer");
}

TEST_CASE("a member is found in objects alone") {
  const json root = document(R"({"a": null, "b": [1]})");
  CHECK(member(root, "a")->is_null());
  CHECK(member(root, "c") == nullptr);
  CHECK(member(root["b"], "0") == nullptr);
  CHECK(member(json(3), "a") == nullptr);
  CHECK(member(json("a"), "a") == nullptr);
  CHECK(member(json(), "a") == nullptr);
}

TEST_CASE("numbers and instants are read from strings, too") {
  CHECK(number_in(json(-3.5)) == -3.5);
  CHECK(number_in(json(" 63 ")) == 63);
  for (const json& none : {json("63 %"), json("nan"), json("1e400"), json(""), json(true),
                           json(), json::array({1}), json::object()}) {
    CAPTURE(none.dump());
    CHECK_FALSE(number_in(none));
    CHECK_FALSE(instant_in(none));
  }
  for (const json& same : {json(1776017000), json("1776017000"), json(1776017000999),
                           json(1776017000.9), json("2026-04-12T20:03:20+02:00")}) {
    CAPTURE(same.dump());
    CHECK(format_utc(instant_in(same).value()) == "2026-04-12T18:03:20Z");
  }
  CHECK_FALSE(instant_in(json(-5)));
  CHECK_FALSE(instant_in(json("2026-04-12T20:03:20")));
}

TEST_CASE("the first key that has a usable value counts, at the top or in one place") {
  const auto found_in = [](std::string_view text) {
    const json root = document(text);
    const FoundValue found = value_near(root, kKeys, is_number);
    if (found.ambiguous) return std::string("ambiguous");
    if (found.value == nullptr) return std::string("none");
    return std::string(found.key) + " " + found.value->dump();
  };
  CHECK(found_in(R"({"t": 2, "temperature": 1})") == "temperature 1");
  CHECK(found_in(R"({"t": 2, "temperature": "x"})") == "t 2");
  CHECK(found_in(R"({"t": 2, "in": {"temperature": 1}})") == "t 2");
  CHECK(found_in(R"({"a": [1], "in": {"t": 2}})") == "t 2");
  CHECK(found_in(R"({"a": {"t": 1}, "in": {"temperature": 2}})") == "ambiguous");
  CHECK(found_in(R"({"a": {"in": {"t": 1}}})") == "none");
  CHECK(found_in("[]") == "none");
  CHECK(found_in("3") == "none");
  CHECK(value_under(document(R"({"in": {"t": 2}})"), kKeys, is_number).value == nullptr);
}

TEST_CASE("values and keys are shown short, and without control characters") {
  CHECK(shown(json::object()) == "an object");
  CHECK(shown(json::array()) == "an array");
  CHECK(shown(json("o\x1bk")) == "\"o\\x1bk\"");
  CHECK(shown(json(21.5)) == "21.5");
  CHECK(shown(json(true)) == "true");
  CHECK(shown(json()) == "null");
  CHECK(shown_keys(document(R"({"b": 1, "a\u001b": 2})")) == "{a\\x1b, b}");
  CHECK(shown_keys(json::object()) == "{}");
  json many;
  for (int i = 0; i < 10'000; ++i)
    many["key" + std::to_string(i)] = i;
  CHECK(shown_keys(many).size() <= 90);
}

}  // namespace
}  // namespace rimeward
