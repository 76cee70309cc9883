#include "tools/draw/chart_picture.h"

#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <cstring>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include <cairo/cairo.h>
#include <doctest/doctest.h>

#include "tests/tools/draw/sample_chart.h"
#include "tools/draw/chart_layout.h"

namespace rimeward {
namespace {

using std::chrono::hours;
using std::chrono::minutes;

cairo_status_t read_some(void* from, unsigned char* into, unsigned length) {
  auto& png = *static_cast<std::string_view*>(from);
  if (png.size() < length) return CAIRO_STATUS_READ_ERROR;
  std::memcpy(into, png.data(), length);
  png.remove_prefix(length);
  return CAIRO_STATUS_SUCCESS;
}

std::string drawn(const Chart& chart, PictureFormat format = PictureFormat::kPng) {
  const auto picture = chart_picture(chart, format);
  REQUIRE(picture.has_value());
  return *picture;
}

struct Pixels {
  explicit Pixels(const Chart& chart) : layout(chart) {
    const std::string png = drawn(chart);
    std::string_view unread = png;
    surface.reset(cairo_image_surface_create_from_png_stream(read_some, &unread));
    REQUIRE(cairo_surface_status(surface.get()) == CAIRO_STATUS_SUCCESS);
    REQUIRE(cairo_image_surface_get_width(surface.get()) == ChartLayout::kWidth);
    REQUIRE(cairo_image_surface_get_height(surface.get()) == layout.height);
  }

  // As 0xRRGGBB.
  unsigned at(double x, double y) const {
    const unsigned char* row =
        cairo_image_surface_get_data(surface.get()) +
        static_cast<int>(y) * cairo_image_surface_get_stride(surface.get());
    std::uint32_t colour = 0;
    std::memcpy(&colour, row + static_cast<std::ptrdiff_t>(x) * 4, sizeof colour);
    return colour & 0xffffffU;
  }

  // Whether anything in the plot has that colour, at whatever height.
  bool has(Instant when, unsigned colour) const {
    for (double y = layout.top; y < layout.bottom; ++y) {
      if (at(layout.x(when), y) == colour) return true;
    }
    return false;
  }

  struct Destroy {
    void operator()(cairo_surface_t* one) const { cairo_surface_destroy(one); }
  };
  ChartLayout layout;
  std::unique_ptr<cairo_surface_t, Destroy> surface;
};

// The first line's colour in a picture, and the paper's and a night's.
constexpr unsigned kFirstColour = 0x0073b3;
constexpr unsigned kWhite = 0xffffff;
constexpr unsigned kNight = 0xe8e8f0;

Chart one_place() {
  Chart chart = two_days();
  chart.lines = {invented_line("North frame", chart.span, minutes{5}, 6, 6, 0)};
  return chart;
}

TEST_CASE("nights are shaded, and days are not") {
  const Chart chart = one_place();
  const Pixels pixels(chart);
  for (const Chart::Span& night : chart.nights) {
    CHECK(pixels.at(pixels.layout.x(night.from) + 2, pixels.layout.top + 3) == kNight);
    CHECK(pixels.at(pixels.layout.x(night.from) - 2, pixels.layout.top + 3) == kWhite);
    CHECK(pixels.at(pixels.layout.x(night.to) - 2, pixels.layout.top + 3) == kNight);
    CHECK(pixels.at(pixels.layout.x(night.to) + 2, pixels.layout.top + 3) == kWhite);
  }
}

TEST_CASE("the curve goes through its readings") {
  const Chart chart = one_place();
  const Pixels pixels(chart);
  // Half an hour after the ticks, where no other line is.
  for (int hour = 19; hour < 66; hour += 6) {
    CAPTURE(hour);
    const Instant at = kFridayMidnight + hours{hour} + minutes{30};
    const double y = pixels.layout.y(invented_air(at, 6, 6));
    CHECK(pixels.has(at, kFirstColour));
    bool near = false;
    for (double dy = -3; dy <= 3; ++dy)
      near = near || pixels.at(pixels.layout.x(at), y + dy) == kFirstColour;
    CHECK(near);
  }
}

TEST_CASE("nothing is drawn where readings are missing") {
  Chart chart = one_place();
  chart.nights.clear();
  auto& pieces = chart.lines[0].pieces;
  const std::vector<Chart::Point> all = pieces[0];
  pieces = {{all.begin(), all.begin() + 200}, {all.begin() + 260, all.end()}};
  const Pixels pixels(chart);
  const Instant gap = all[200].at;
  CHECK(pixels.has(gap - minutes{20}, kFirstColour));
  for (int minute = 10; minute < 280; minute += 15) {
    CAPTURE(minute);
    CHECK_FALSE(pixels.has(gap + minutes{minute}, kFirstColour));
  }
  CHECK(pixels.has(gap + minutes{310}, kFirstColour));
}

TEST_CASE("highs and lows that are apart are two edges with a band between") {
  Chart chart = two_days();
  chart.nights.clear();
  chart.lines = {invented_line("North frame", chart.span, minutes{30}, 6, 1, 8)};
  const Pixels pixels(chart);
  const Instant at = kFridayMidnight + hours{27} + minutes{40};
  const double middle = pixels.layout.y(invented_air(at, 6, 1)) + 5;
  const unsigned band = pixels.at(pixels.layout.x(at), middle);
  CHECK(band != kWhite);
  CHECK(band != kFirstColour);
  const double edge = pixels.layout.y(invented_air(at, 6, 1) + 4);
  CHECK(pixels.at(pixels.layout.x(at), edge - 6) == kWhite);
}

TEST_CASE("all that a chart says can be seen in the picture") {
  Chart chart = one_place();
  const Instant from = chart.span.from;
  chart.lines[0].keep_above = 2;
  chart.lines[0].covers = {{{from + hours{2}, from + hours{14}}, 2}};
  chart.lines.push_back(invented_line("Yard", chart.span, minutes{5}, 3, 6, 0));
  chart.marks = {{from + hours{1}, "13  Fleece the north frame tonight, by 19:35"}};
  const std::string png = drawn(chart);
  CHECK(drawn(chart) == png);
  const auto differs = [&](auto change) {
    Chart other = chart;
    change(other);
    return drawn(other) != png;
  };
  CHECK(differs([](Chart& other) { other.title = "Another garden"; }));
  CHECK(differs([](Chart& other) { other.unit = "°F"; }));
  CHECK(differs([](Chart& other) { other.span.to += hours{1}; }));
  CHECK(differs([](Chart& other) { other.ticks[1].label = "1"; }));
  CHECK(differs([](Chart& other) { other.ticks[2].is_day = true; }));
  CHECK(differs([](Chart& other) { other.nights.pop_back(); }));
  CHECK(differs([](Chart& other) { other.lines[1].place = "Pea bed"; }));
  CHECK(differs([](Chart& other) { other.lines[1].pieces[0][100].low -= 4; }));
  CHECK(differs([](Chart& other) { other.lines[0].keep_above = 3; }));
  CHECK(differs([](Chart& other) { other.lines[0].keep_above.reset(); }));
  CHECK(differs([](Chart& other) { other.lines[0].covers[0].layers = 1; }));
  CHECK(differs([](Chart& other) { other.lines[0].covers[0].span.to -= hours{1}; }));
  CHECK(differs([](Chart& other) { other.marks[0].at += hours{1}; }));
  CHECK(differs([](Chart& other) { other.marks[0].text = "13  Shut the yard"; }));
  CHECK(differs([](Chart& other) { std::swap(other.lines[0], other.lines[1]); }));
}

TEST_CASE("a picture grows for covers and notices, up to a limit") {
  Chart chart = one_place();
  const int plain = ChartLayout(chart).height;
  CHECK(plain >= 440);
  CHECK(plain <= 520);
  const auto height_with = [&](int marks, std::size_t covered) {
    Chart other = chart;
    for (int i = 0; i < marks; ++i)
      other.marks.push_back({chart.span.from + minutes{i}, "13  Shut the yard"});
    other.lines.resize(std::max<std::size_t>(1, covered));
    for (std::size_t i = 0; i < covered; ++i)
      other.lines[i].covers = {{chart.span, 1}};
    return Pixels(other).layout.height;
  };
  CHECK(height_with(1, 0) > plain);
  CHECK(height_with(12, 0) == height_with(11, 0) + 18);
  CHECK(height_with(13, 0) == height_with(12, 0) + 18);
  CHECK(height_with(400, 0) == height_with(13, 0));
  CHECK(height_with(0, 1) > plain);
  CHECK(height_with(0, 10) == height_with(0, 9) + 18);
  CHECK(height_with(0, 60) == height_with(0, 11));
}

TEST_CASE("a chart with next to nothing in it is a picture all the same") {
  Chart chart = two_days();
  CHECK(Pixels(chart).at(940, 20) == kWhite);
  chart.lines = {{.place = "Yard"}};
  drawn(chart);
  chart.lines[0].pieces = {{}};
  drawn(chart);
  const Instant at = kFridayMidnight + hours{39};
  chart.lines[0].pieces = {{{at, 5, 5}}};
  CHECK(Pixels(chart).has(at, kFirstColour));
  chart.ticks.clear();
  chart.nights.clear();
  chart.title.clear();
  chart.unit.clear();
  drawn(chart);
}

TEST_CASE("what lies outside the chart's span is not drawn beside the plot") {
  Chart chart = one_place();
  const Chart::Span span = chart.span;
  chart.lines[0] = invented_line(
      "North frame", {span.from - hours{40}, span.to + hours{9}}, minutes{5}, 6, 6, 0);
  chart.lines[0].covers = {{{Instant{}, span.to + hours{1000}}, 1}};
  chart.nights.push_back({span.to, span.to + hours{1'000'000}});
  const Pixels pixels(chart);
  for (double y = pixels.layout.top + 8; y < pixels.layout.bottom - 8; ++y)
    CHECK_FALSE(pixels.at(ChartLayout::kRight + 4, y) != kWhite);
}

bool is_text_start(std::string_view rest) {
  return rest.starts_with("<?") || rest.starts_with("<!");
}

// The names of the elements that are open at the end, or "fault": enough of XML to see
// that every tag is closed by its own and every quote by another.
std::vector<std::string> open_elements(std::string_view xml) {
  std::vector<std::string> open;
  for (auto at = xml.find('<'); at != std::string_view::npos; at = xml.find('<')) {
    xml.remove_prefix(at);
    const auto end = xml.find('>');
    if (end == std::string_view::npos) return {"fault"};
    const std::string_view tag = xml.substr(1, end - 1);
    if (tag.find('<') != std::string_view::npos ||
        std::ranges::count(tag, '"') % 2 != 0) {
      return {"fault"};
    }
    const std::string name(tag.substr(0, tag.find_first_of(" \n/", 1)));
    if (tag.starts_with('/')) {
      if (open.empty() || "/" + open.back() != tag) return {"fault"};
      open.pop_back();
    } else if (!tag.ends_with('/') && !is_text_start(xml)) {
      open.push_back(name);
    }
    xml.remove_prefix(end);
  }
  return open;
}

TEST_CASE("an SVG is whole, 960 wide, and holds no text to be misread") {
  Chart chart = one_place();
  chart.title = "<script>alert(\"1\")</script> & 'more'";
  chart.lines[0].place = "]]><svg onload=\"x\">";
  const std::string svg = drawn(chart, PictureFormat::kSvg);
  CHECK(open_elements(svg).empty());
  CHECK(svg.find("<svg") != std::string::npos);
  CHECK(svg.find("width=\"960px\"") != std::string::npos);
  CHECK(svg.find("viewBox=\"0 0 960 ") != std::string::npos);
  CHECK(svg.find("script") == std::string::npos);
  CHECK(svg.find("onload") == std::string::npos);
  CHECK(open_elements(svg.substr(0, svg.size() - 20)) != std::vector<std::string>{});
}

TEST_CASE("texts that are not UTF-8, endless or hidden are drawn as far as they can be") {
  Chart chart = one_place();
  const auto draw_both = [&](const std::string& text) {
    chart.title = text;
    chart.unit = text;
    chart.lines[0].place = text;
    chart.lines[0].keep_above = 3;
    chart.ticks[0].label = text;
    chart.marks = {{chart.span.from, text}};
    drawn(chart);
    drawn(chart, PictureFormat::kSvg);
  };
  for (const std::string& text :
       {std::string("caf\xe9 \xff\xc3"), std::string(100'000, 'w'), std::string("\0a", 2),
        std::string("\n\r\t\x1b[31m\x7f"), std::string("\u202etfel \u200b\u2066"),
        std::string("\xed\xa0\x80"), std::string(3'000, '\x80')}) {
    CAPTURE(text.substr(0, 20));
    draw_both(text);
  }
  std::string long_name;
  for (int i = 0; i < 2'000; ++i)
    long_name += "ü€𝄞";
  draw_both(long_name);
}

TEST_CASE("text is made drawable character by character") {
  CHECK(drawable("Südkasten\n2") == "Südkasten 2");
  CHECK(drawable("caf\xe9!") == "caf\ufffd!");
  CHECK(drawable("\xe2\x82") == "\ufffd\ufffd");
  CHECK(drawable("").empty());
}

TEST_CASE("sixty places, a year of days and of readings can be drawn") {
  Chart chart = two_days();
  for (int i = 0; i < 60; ++i) {
    chart.lines.push_back(invented_line("Bed " + std::to_string(i), chart.span,
                                        minutes{10}, i / 3.0, 5, 0));
    chart.lines.back().keep_above = i / 4.0;
    chart.lines.back().covers = {{chart.span, i + 1}};
  }
  drawn(chart);
  chart.lines.resize(1);
  chart.span.from -= hours{24 * 365};
  chart.nights.clear();
  for (Instant at = chart.span.from; at < chart.span.to; at += hours{24}) {
    chart.nights.push_back({at, at + hours{11}});
    chart.ticks.push_back({at, "Sun 12 Apr", true});
  }
  chart.lines[0] = invented_line("Yard", chart.span, hours{24}, 8, 5, 9);
  drawn(chart);
  chart.lines[0] = invented_line("Yard", chart.span, minutes{6}, 8, 5, 0.4);
  drawn(chart);
}

TEST_CASE("numbers of any size get round steps, and at least a few of them") {
  struct Case {
    double low, high;
    std::string_view unit;
    double from, to, step;
  };
  for (const Case& one :
       {Case{-3.2, 11.7, "°C", -4, 12, 2}, Case{12.34, 12.34, "°C", 11.5, 13.5, 0.5},
        Case{100, 100, "%", 98, 100, 0.5}, Case{0, 0, "%", 0, 2, 0.5},
        Case{0, 84'000, "lx", 0, 90'000, 10'000}, Case{2.91, 2.94, "V", 2.91, 2.95, 0.01},
        Case{-1e9, 1e9, "°C", -1e9, 1e9, 5e8}, Case{996, 1031, "hPa", 995, 1035, 5}}) {
    CAPTURE(one.high);
    Chart chart = two_days();
    chart.unit = one.unit;
    chart.lines = {{.place = "Yard", .pieces = {{{chart.span.from, one.low, one.high}}}}};
    const ChartLayout layout(chart);
    CHECK(layout.low == doctest::Approx(one.from));
    CHECK(layout.high == doctest::Approx(one.to));
    CHECK(layout.step == doctest::Approx(one.step));
    drawn(chart);
  }
}

}  // namespace
}  // namespace rimeward
