#include "tools/draw/chart_json.h"

#include <limits>
#include <string>
#include <string_view>

#include <doctest/doctest.h>

#include "tests/tools/draw/sample_chart.h"

namespace rimeward {
namespace {

using std::chrono::hours;

// Something in every member.
Chart full_chart() {
  Chart chart = two_days();
  const Instant from = chart.span.from;
  chart.lines = {
      {.place = "North frame",
       .pieces = {{{from, 0.1, 0.30000000000000004}, {from + hours{1}, -2.5, -2.5}},
                  {{from + hours{5}, -0.0, 1e-300}}},
       .keep_above = 5.0 / 3,
       .covers = {{{from + hours{2}, from + hours{14}}, 2}, {{from, from}, 1}}},
      {.place = "Südkasten \"alt\"\n\x01 \\", .pieces = {}}};
  chart.marks = {{from + hours{1}, "13  Fleece the north frame tonight, by 19:35"},
                 {from + hours{1}, ""}};
  return chart;
}

TEST_CASE("a chart's JSON reads back as the same chart") {
  const Chart chart = full_chart();
  const auto read = chart_from_json(chart_json(chart));
  REQUIRE_MESSAGE(read.has_value(), (read ? "" : read.error().message));
  CHECK(*read == chart);
  CHECK(chart_json(*read) == chart_json(chart));
}

TEST_CASE("the JSON of a chart has these members") {
  Chart chart{.title = "Yard",
              .unit = "%",
              .span = {Instant{}, Instant{hours{1}}},
              .ticks = {{Instant{}, "0", true}},
              .nights = {{Instant{}, Instant{hours{1}}}},
              .lines = {{.place = "Yard",
                         .pieces = {{{Instant{}, 1, 2.5}}},
                         .keep_above = 4,
                         .covers = {{{Instant{}, Instant{hours{1}}}, 2}}}},
              .marks = {{Instant{}, "13  Shut the yard"}}};
  CHECK(chart_json(chart) ==
        R"({"title":"Yard","unit":"%","span":{"from":0,"to":3600},)"
        R"("ticks":[{"at":0,"label":"0","is_day":true}],)"
        R"("nights":[{"from":0,"to":3600}],)"
        R"("lines":[{"place":"Yard","pieces":[[[0,1.0,2.5]]],"keep_above":4.0,)"
        R"("covers":[{"from":0,"to":3600,"layers":2}]}],)"
        R"("marks":[{"at":0,"text":"13  Shut the yard"}]})");
}

TEST_CASE("bytes that are not UTF-8 are replaced when a chart is written") {
  Chart chart = full_chart();
  chart.lines[0].place = "caf\xe9 frame";
  const auto read = chart_from_json(chart_json(chart));
  REQUIRE(read.has_value());
  CHECK(read->lines[0].place == "caf\ufffd frame");
}

TEST_CASE("a number that is not finite is refused with its path") {
  for (const double number : {std::numeric_limits<double>::quiet_NaN(),
                              std::numeric_limits<double>::infinity(), -1e300}) {
    CAPTURE(number);
    Chart chart = full_chart();
    chart.lines[0].pieces[1][0].low = number;
    const auto read = chart_from_json(chart_json(chart));
    REQUIRE_FALSE(read.has_value());
    CHECK(
        read.error().message.starts_with("lines[0].pieces[1][0][1]: expected a number"));
  }
}

// The message that `json` is refused with.
std::string refusal(std::string_view json) {
  const auto read = chart_from_json(json);
  return read ? "not refused" : read.error().message;
}

TEST_CASE("text that is no chart is refused") {
  for (const std::string_view text :
       {"", "{", "[]", "3", "null", "\xff", "{\"title\":\"caf\xe9\"}",
        R"({"title":"a","unit":1e999})"}) {
    CAPTURE(text);
    CHECK(refusal(text) == "expected a chart as one JSON object");
  }
  CHECK(refusal(std::string(200'000, '[')) == "expected a chart as one JSON object");
}

// `chart_json` of a small chart with `part` of it replaced.
std::string with(std::string_view part, std::string_view other) {
  Chart chart = two_days();
  chart.ticks = {{chart.span.from, "18", false}};
  chart.nights.resize(1);
  chart.lines = {{.place = "Yard",
                  .pieces = {{{chart.span.from, 1, 2}}},
                  .covers = {{chart.span, 2}}}};
  chart.marks = {{chart.span.to, "a"}};
  std::string json = chart_json(chart);
  const auto at = json.find(part);
  REQUIRE(at != std::string::npos);
  return json.replace(at, part.size(), other);
}

TEST_CASE("a member of the wrong kind or size is refused, and the message says which") {
  struct Wrong {
    std::string_view part;
    std::string_view other;
    std::string_view message;
  };
  constexpr std::string_view kPiece = "[[1775836800,1.0,2.0]]";
  const Wrong wrongs[] = {
      {R"("unit":"°C")", R"("unit":3)", "unit: expected text, found 3"},
      {R"("unit":"°C",)", "", "unit: expected text, found nothing"},
      {R"("is_day":false)", R"("is_day":0)",
       "ticks[0].is_day: expected true or false, found 0"},
      {R"("label":"18")", R"("label":{})",
       "ticks[0].label: expected text, found an object"},
      {R"("span":{)", R"("spin":{)",
       "span.from: expected a time in whole seconds since 1970, -10000000000 to "
       "10000000000, found nothing"},
      {R"("from":1775836800)", R"("from":1775836800.5)",
       "span.from: expected a time in whole seconds since 1970, -10000000000 to "
       "10000000000, found 1775836800.5"},
      {R"("from":1775836800)", R"("from":18446744073709551615)",
       "span.from: expected a time in whole seconds since 1970, -10000000000 to "
       "10000000000, found 18446744073709551615"},
      {R"("from":1775836800)", R"("from":1776009600)",
       R"(span.to: expected a time after "from")"},
      {R"("from":1775836800)", R"("from":1776009601)",
       "span.to: expected no time before"},
      {R"("layers":2)", R"("layers":0)",
       "lines[0].covers[0].layers: expected whole layers, 1 to 99, found 0"},
      {R"("layers":2)", R"("layers":4294967298)",
       "lines[0].covers[0].layers: expected whole layers, 1 to 99, found 4294967298"},
      {R"("keep_above":null)", R"("keep_above":"4")",
       "lines[0].keep_above: expected a number, -1000000000 to 1000000000, found 4"},
      {kPiece, "[]",
       "lines[0].pieces[0]: expected at least one point, found a list of 0"},
      {kPiece, "[[1,2]]",
       "lines[0].pieces[0][0]: expected [at, low, high], found a list of 2"},
      {kPiece, "[[1,2,1]]",
       "lines[0].pieces[0][0][2]: expected no high below the low, found 1"},
      {kPiece, "[[2,1,1],[1,1,1]]",
       "lines[0].pieces[0]: expected order of time, found a list of 2"},
      {kPiece, "[[2,1,1]],[[1,1,1]]",
       "lines[0].pieces: expected order of time, found a list of 2"},
      {kPiece, "{}", "lines[0].pieces[0]: expected a list of at most 100000"},
      {R"("marks":[)", R"("marks":[{"at":9000000000,"text":""},)",
       "marks: expected order of time, found a list of 2"},
      {R"("marks":[)", R"("marks":[7,)", "marks[0].at: expected a time"},
  };
  for (const Wrong& wrong : wrongs) {
    CAPTURE(wrong.other);
    const std::string message = refusal(with(wrong.part, wrong.other));
    CHECK(message.substr(0, wrong.message.size()) == wrong.message);
  }
}

TEST_CASE("a chart with more than can be drawn is refused") {
  const auto refused = [](auto change) {
    Chart chart = two_days();
    chart.lines.resize(1);
    change(chart);
    return refusal(chart_json(chart));
  };
  CHECK(refused([](Chart&) {}) == "not refused");
  CHECK(refused([](Chart& chart) { chart.lines.clear(); }) ==
        "lines: expected at least one, found a list of 0");
  CHECK(refused([](Chart& chart) { chart.lines.resize(101); }) ==
        "lines: expected a list of at most 100, found a list of 101");
  CHECK(refused([](Chart& chart) { chart.marks.resize(5001); }) ==
        "marks: expected a list of at most 5000, found a list of 5001");
  CHECK(refused([](Chart& chart) {
          chart.title = std::string(2001, 'w');
        }).starts_with("title: expected text of at most 2000 bytes"));
  CHECK(refused([](Chart& chart) {
          chart.lines[0].pieces = {{50'000, {Instant{}, 1, 1}},
                                   {50'001, {Instant{}, 1, 1}}};
        }).starts_with("lines[0].pieces[1]: expected at most 100000 points in all"));
}

}  // namespace
}  // namespace rimeward
