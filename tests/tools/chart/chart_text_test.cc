#include "tools/cli/chart/chart_text.h"

#include <algorithm>
#include <chrono>
#include <sstream>
#include <string>
#include <vector>

#include <doctest/doctest.h>
#include <fmt/format.h>

#include "daemon/base/columns.h"
#include "tests/support/sample_store.h"
#include "tools/cli/chart/chart_words.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;
using std::chrono::days;

Chart::Span two_days() {
  return {sample_evening() - days{2}, sample_evening()};
}

// A place with a reading each ten minutes of the value, all the span.
void add_place(ChartAnswer& answer, const std::string& name, double value) {
  const Chart::Span& span = answer.chart.span;
  std::vector<Chart::Point> piece;
  for (Instant at = span.from; at <= span.to; at += 10min)
    piece.push_back({at, value, value});
  answer.chart.lines.push_back({.place = name, .pieces = {piece}});
  answer.curves.push_back({.pieces = {piece},
                           .low = ChartExtreme{value, span.from},
                           .high = ChartExtreme{value, span.from}});
}

void add_notice(ChartAnswer& answer, NoticeId id, Instant at) {
  NoticeRow row;
  row.id = id;
  row.raised_at = at;
  answer.notices.push_back(row);
  answer.chart.marks.push_back({at, fmt::format("{}  Fleece it, by 19:35", id)});
}

ChartAnswer answer_of(std::size_t places) {
  ChartAnswer answer;
  answer.chart.title = "Hochfeld school garden: air temperature, Fri to Sun";
  answer.chart.unit = "°C";
  answer.chart.span = two_days();
  for (std::size_t i = 0; i < places; ++i)
    add_place(answer, fmt::format("Place {}", i), static_cast<double>(5 * i));
  return answer;
}

std::vector<std::string> lines_of(const ChartAnswer& answer, const Screen& screen) {
  std::istringstream stream(chart_text(answer, sample_zone(), screen));
  std::vector<std::string> lines;
  for (std::string line; std::getline(stream, line);)
    lines.push_back(line);
  return lines;
}

TEST_CASE("no line of a chart is wider than its screen, whatever is in it") {
  for (const std::size_t width : {60U, 61U, 79U, 80U, 99U, 100U, 133U, 200U}) {
    for (const std::size_t places : {1U, 2U, 12U}) {
      ChartAnswer answer = answer_of(places);
      answer.chart.lines.front().place = "Bergers großes Gewächshaus am Südhang";
      answer.chart.lines.front().keep_above = 1.0;
      const Instant end = answer.chart.span.to;
      answer.chart.lines.back().covers = {{{end - 5h, end}, 12}, {{end, end}, 1}};
      answer.chart.nights = {{end - 20h, end - 9h}, {end - 1s, end}};
      answer.chart.ticks = {{answer.chart.span.from, "Fri 10 Apr", true},
                            {end - 1min, "Sun 12 Apr", true},
                            {end, "18", false}};
      for (NoticeId id = 1; id <= 40; ++id)
        add_notice(answer, 99'990 + id, end - id * 20s);
      for (const bool utf8 : {true, false}) {
        const Screen screen{.width = width, .colour = false, .utf8 = utf8};
        for (const std::string& line : lines_of(answer, screen)) {
          CAPTURE(width);
          CAPTURE(line);
          CHECK(display_width(line) <= width);
          CHECK((utf8 || std::ranges::all_of(line, [](char c) { return c > 0; })));
        }
      }
    }
  }
}

TEST_CASE("colour changes nothing but the colour") {
  ChartAnswer answer = answer_of(3);
  answer.chart.nights = {{answer.chart.span.from + 2h, answer.chart.span.from + 12h}};
  answer.chart.lines[1].keep_above = 4.0;
  const Screen plain{.width = 80, .colour = false, .utf8 = true};
  Screen colour = plain;
  colour.colour = true;
  std::string stripped;
  const std::string text = chart_text(answer, sample_zone(), colour);
  for (std::size_t i = 0; i < text.size(); ++i) {
    if (text[i] == '\x1b') i = text.find('m', i) + 1;
    while (i < text.size() && text[i] == '\x1b')
      i = text.find('m', i) + 1;
    if (i < text.size()) stripped += text[i];
  }
  CHECK(stripped == chart_text(answer, sample_zone(), plain));
  CHECK(text.size() > stripped.size());
}

TEST_CASE("each curve that reaches the end has its letter there, on rows of their own") {
  ChartAnswer answer = answer_of(2);
  add_place(answer, "Yard", 5.0);  // on the curve of the second
  std::string ends;
  for (const std::string& line :
       lines_of(answer, {.width = 80, .colour = false, .utf8 = true})) {
    if (display_width(line) == 80) ends += line.back();
  }
  std::ranges::sort(ends);
  CHECK(ends == "LPY");
}

TEST_CASE("a hole in the readings is a hole in the curve") {
  ChartAnswer answer = answer_of(1);
  auto& pieces = answer.chart.lines.front().pieces;
  const std::vector<Chart::Point> all = pieces.front();
  const auto third = static_cast<std::ptrdiff_t>(all.size() / 3);
  pieces = {{all.begin(), all.begin() + third}, {all.end() - third, all.end()}};
  const Screen screen{.width = 80, .colour = false, .utf8 = false};
  const auto lines = lines_of(answer, screen);
  // Its value is 0: on the line of the curve nothing but that of freezing shows through.
  const auto row = std::ranges::find_if(lines, [](const std::string& line) {
    return line.find("0 +") != std::string::npos;
  });
  REQUIRE(row != lines.end());
  const std::string plot = row->substr(row->find('+') + 1);
  CHECK(plot.substr(0, 22) == std::string(22, '-'));
  CHECK(plot.find("freezing") != std::string::npos);
  CHECK(plot.substr(plot.size() - 22) == std::string(22, '-'));
}

TEST_CASE("missing readings are told with their times, at the edges by one of them") {
  const Chart::Span span = two_days();
  const Zone zone = sample_zone();
  ChartCurve curve;
  CHECK(gap_words(curve, span, zone).empty());
  curve.gaps = {{span.from, span.from + 1h},
                {span.from + 9h, span.from + 11h},
                {span.to - 3h, span.to}};
  CHECK(gap_words(curve, span, zone) ==
        "no readings before Fri 19:40, from Sat 03:40 to 05:40, since Sun 15:40");
  curve.gaps.insert(curve.gaps.begin() + 1, {span.from + 2h, span.from + 2h + 30min});
  CHECK(gap_words(curve, span, zone) ==
        "no readings before Fri 19:40, from Sat 03:40 to 05:40, since Sun 15:40 "
        "and once more");
}

TEST_CASE("times are told as finely as the span needs") {
  const Zone zone = sample_zone();
  const Instant at = sample_evening() - 3h;
  const auto told = [&](Instant from) {
    return chart_time(at, {from, sample_evening()}, zone);
  };
  CHECK(told(sample_evening() - 6h) == "15:40");
  CHECK(told(sample_evening() - days{2}) == "Sun 15:40");
  CHECK(told(sample_evening() - days{30}) == "12 Apr 15:40");
  CHECK(told(sample_evening() - days{800}) == "2026-04-12");
}

TEST_CASE("of many notices the newest are listed, and how many there were before") {
  ChartAnswer answer = answer_of(1);
  for (NoticeId id = 1; id <= 15; ++id)
    add_notice(answer, id, answer.chart.span.from + id * 1h);
  const std::string text =
      notices_text(answer, sample_zone(), {.width = 80, .colour = false, .utf8 = true});
  CHECK(text.find("  3  ") == std::string::npos);
  CHECK(text.find("  4  Fri 22:40  Fleece it, by 19:35\n") != std::string::npos);
  CHECK(text.find("3 earlier ones") != std::string::npos);
}

}  // namespace
}  // namespace rimeward
