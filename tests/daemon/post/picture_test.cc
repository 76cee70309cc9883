#include "daemon/post/picture.h"

#include <cstdint>
#include <cstring>
#include <limits>
#include <memory>
#include <string>
#include <string_view>

#include <cairo/cairo.h>
#include <doctest/doctest.h>

#include "tests/daemon/post/sample_jobs.h"

namespace rimeward {
namespace {

std::string drawn(const WeekChart& chart) {
  const auto picture = week_picture(chart);
  REQUIRE(picture.has_value());
  return *picture;
}

// The four bytes at `at`, the highest first (PNG, ISO/IEC 15948, section 7.1).
unsigned number_at(const std::string& png, std::size_t at) {
  unsigned number = 0;
  for (std::size_t i = 0; i < 4; ++i)
    number = (number << 8U) | static_cast<unsigned char>(png.at(at + i));
  return number;
}

void check_is_picture(const std::string& png) {
  CHECK(png.starts_with("\x89PNG\r\n\x1a\n"));
  CHECK(number_at(png, 16) == 720);
  CHECK(number_at(png, 20) == 360);
  CHECK(png.find("IEND") != std::string::npos);
}

TEST_CASE("a week's picture is a PNG of 720 by 360, the same for the same week") {
  const std::string png = drawn(sample_chart());
  check_is_picture(png);
  CHECK(drawn(sample_chart()) == png);
}

TEST_CASE("all that a chart says can be seen in the picture") {
  const std::string png = drawn(sample_chart());
  const auto differs = [&](auto change) {
    WeekChart chart = sample_chart();
    change(chart);
    return drawn(chart) != png;
  };
  CHECK(differs([](WeekChart& chart) { chart.title = "Another week"; }));
  CHECK(differs([](WeekChart& chart) { chart.days[1] = "Thu"; }));
  CHECK(differs([](WeekChart& chart) { chart.lines[0].place = "Frame"; }));
  CHECK(differs([](WeekChart& chart) { chart.lines[0].lows[0] = Celsius{4}; }));
  CHECK(differs([](WeekChart& chart) { chart.lines[1].highs[2] = Celsius{8}; }));
  CHECK(differs([](WeekChart& chart) { chart.lines[1].highs[2] = std::nullopt; }));
  CHECK(differs([](WeekChart& chart) { chart.lines[0].highs[1] = Celsius{20}; }));
  CHECK(differs([](WeekChart& chart) { chart.lines[0].keep_above = std::nullopt; }));
  CHECK(differs([](WeekChart& chart) { chart.in_fahrenheit = true; }));
  CHECK(differs([](WeekChart& chart) { std::swap(chart.lines[0], chart.lines[1]); }));
}

TEST_CASE("a chart with nothing in it, or nothing known, is a picture all the same") {
  check_is_picture(drawn({}));
  WeekChart chart = sample_chart();
  chart.days.clear();
  check_is_picture(drawn(chart));
  chart = sample_chart();
  for (WeekChart::Line& line : chart.lines)
    line = {.place = line.place, .lows = {}, .highs = {}, .keep_above = {}};
  check_is_picture(drawn(chart));
}

cairo_status_t read_some(void* from, unsigned char* into, unsigned length) {
  auto& png = *static_cast<std::string_view*>(from);
  if (png.size() < length) return CAIRO_STATUS_READ_ERROR;
  std::memcpy(into, png.data(), length);
  png.remove_prefix(length);
  return CAIRO_STATUS_SUCCESS;
}

// Whether anything but shades of grey is drawn in that column of pixels, between the
// title and the names of the days.
bool has_colour(const std::string& png, int column) {
  std::string_view unread = png;
  const std::unique_ptr<cairo_surface_t, decltype(&cairo_surface_destroy)> surface(
      cairo_image_surface_create_from_png_stream(read_some, &unread),
      cairo_surface_destroy);
  REQUIRE(cairo_surface_status(surface.get()) == CAIRO_STATUS_SUCCESS);
  const unsigned char* pixels = cairo_image_surface_get_data(surface.get());
  for (int row = 30; row < 330; ++row) {
    const unsigned char* pixel =
        pixels + row * cairo_image_surface_get_stride(surface.get()) + column * 4;
    std::uint32_t colour = 0;
    std::memcpy(&colour, pixel, sizeof colour);
    const auto red = (colour >> 16U) & 0xffU;
    const auto green = (colour >> 8U) & 0xffU;
    if (red != green || green != (colour & 0xffU)) return true;
  }
  return false;
}

TEST_CASE("a line ends before a day that is not known, and begins again behind it") {
  WeekChart chart;
  chart.days = {"Mon", "Tue", "Wed", "Thu", "Fri"};
  WeekChart::Line line{.place = "Yard", .lows = {}, .highs = {}, .keep_above = {}};
  for (const double degrees : {3.0, 4.0, 5.0, 4.0, 3.0})
    line.lows.emplace_back(Celsius{degrees});
  chart.lines = {line};
  // In the middle of the days, and halfway between them: 99 pixels a day.
  for (const int column : {114, 163, 213, 263, 312, 361, 411, 460, 510}) {
    CAPTURE(column);
    CHECK(has_colour(drawn(chart), column));
  }
  chart.lines[0].lows[2] = std::nullopt;
  for (const int column : {114, 163, 213, 411, 460, 510}) {
    CAPTURE(column);
    CHECK(has_colour(drawn(chart), column));
  }
  for (const int column : {263, 312, 361}) {
    CAPTURE(column);
    CHECK_FALSE(has_colour(drawn(chart), column));
  }
}

TEST_CASE("a temperature that cannot be is a gap") {
  WeekChart gap = sample_chart();
  gap.lines[0].lows[0] = std::nullopt;
  for (const double degrees : {1e300, -1e300, std::numeric_limits<double>::infinity(),
                               std::numeric_limits<double>::quiet_NaN(), 150.0}) {
    CAPTURE(degrees);
    WeekChart chart = sample_chart();
    chart.lines[0].lows[0] = Celsius{degrees};
    CHECK(drawn(chart) == drawn(gap));
  }
}

TEST_CASE("more days, places and letters than there is room for do no harm") {
  WeekChart chart;
  chart.title = std::string(5000, 'w') + "ü\n\x01";
  for (int day = 0; day < 400; ++day)
    chart.days.push_back("day " + std::to_string(day) + std::string(300, '-'));
  for (int place = 0; place < 70; ++place) {
    WeekChart::Line line{.place = std::string(100, 'x') + std::to_string(place)};
    for (int day = 0; day < 500; ++day)
      line.lows.push_back(Celsius{static_cast<double>((place * day) % 90)});
    line.highs = line.lows;
    chart.lines.push_back(std::move(line));
  }
  check_is_picture(drawn(chart));
}

TEST_CASE("a name that is not UTF-8 cannot be drawn, and that is said") {
  WeekChart chart = sample_chart();
  chart.lines[0].place = "caf\xe9";
  CHECK_FALSE(week_picture(chart).has_value());
}

}  // namespace
}  // namespace rimeward
