#include "daemon/post/picture.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <vector>

#include <fmt/format.h>

#include "daemon/post/paragraphs.h"
#include "daemon/post/pen.h"
#include "daemon/post/plot.h"

namespace rimeward {
namespace {

// Pixels.
constexpr int kWidth = 720;
constexpr int kHeight = 360;
constexpr double kLeft = 64;
constexpr double kRight = 560;  // the names of the places stand right of it
constexpr double kTop = 40;
constexpr double kBottom = 326;
constexpr double kNameHeight = 16;
constexpr double kNamesAt = kRight + 14;
constexpr double kTextSize = 12;

// Degrees Celsius; no garden's air was ever beyond.
constexpr double kBelievable = 100;

constexpr Colour kDark{0.1, 0.1, 0.1};
constexpr Colour kGrey{0.25, 0.25, 0.25};
constexpr Colour kPale{0.85, 0.85, 0.85};

// The temperatures that are drawn, as the reader's thermometer counts them.
class Scale {
 public:
  explicit Scale(const WeekChart& chart) : in_fahrenheit_(chart.in_fahrenheit) {
    double low = 1e9;
    double high = -1e9;
    const auto widen = [&](const std::optional<Celsius>& temperature) {
      if (const auto degrees = shown(temperature)) {
        low = std::min(low, *degrees);
        high = std::max(high, *degrees);
      }
    };
    for (const WeekChart::Line& line : chart.lines) {
      std::ranges::for_each(line.lows, widen);
      std::ranges::for_each(line.highs, widen);
      widen(line.keep_above);
    }
    if (low > high) {
      low = *shown(Celsius{0});
      high = *shown(Celsius{20});
    }
    // Fifty at most, for what is believable spans little more than seven of them.
    step_ = std::min(50.0, round_step(high - low, 1, 7));
    low_ = step_ * std::floor(low / step_);
    high_ = std::max(step_ * std::ceil(high / step_), low_ + step_);
  }

  double low() const { return low_; }
  double high() const { return high_; }
  double step() const { return step_; }

  std::optional<double> y(const std::optional<Celsius>& temperature) const {
    const auto degrees = shown(temperature);
    return degrees ? std::optional(y_of(*degrees)) : std::nullopt;
  }
  double y_of(double degrees) const {
    return kBottom - (degrees - low_) / (high_ - low_) * (kBottom - kTop);
  }
  std::string label(double degrees) const {
    return fmt::format("{:.0f} °{}", degrees, in_fahrenheit_ ? 'F' : 'C');
  }

 private:
  std::optional<double> shown(const std::optional<Celsius>& temperature) const {
    if (!temperature || !(std::abs(temperature->degrees) <= kBelievable)) return {};
    return in_fahrenheit_ ? temperature->degrees * 1.8 + 32 : temperature->degrees;
  }

  bool in_fahrenheit_;
  double low_ = 0;
  double high_ = 1;
  double step_ = 1;
};

class Drawing {
 public:
  Drawing(Pen& pen, const WeekChart& chart) : pen_(pen), chart_(chart), scale_(chart) {}

  void draw() {
    draw_title();
    draw_degrees();
    draw_days();
    // Each kind of thing for all places, so that no band lies over a line.
    for (std::size_t i = 0; i < chart_.lines.size(); ++i)
      draw_band(chart_.lines[i], line_style(i));
    for (std::size_t i = 0; i < chart_.lines.size(); ++i)
      draw_keep_above(chart_.lines[i], i);
    for (std::size_t i = 0; i < chart_.lines.size(); ++i)
      draw_lines(chart_.lines[i], line_style(i));
    draw_names();
  }

 private:
  using Series = std::vector<std::optional<Celsius>>;

  double x_of(std::size_t day) const {
    const auto days = static_cast<double>(std::max<std::size_t>(1, chart_.days.size()));
    return kLeft + (static_cast<double>(day) + 0.5) * (kRight - kLeft) / days;
  }

  std::optional<Pixel> point(const Series& series, std::size_t day) const {
    if (day >= series.size()) return std::nullopt;
    const auto y = scale_.y(series[day]);
    return y ? std::optional(Pixel{x_of(day), *y}) : std::nullopt;
  }

  void draw_title() {
    pen_.ink(kDark);
    pen_.text_size(15);
    pen_.write(pen_.fitting(one_line(chart_.title), kWidth - 24), {12, 22});
  }

  void draw_degrees() {
    pen_.text_size(kTextSize);
    const double half_a_step = scale_.step() / 2;
    for (double at = scale_.low(); at < scale_.high() + half_a_step;
         at += scale_.step()) {
      const double y = std::round(scale_.y_of(at)) + 0.5;
      pen_.ink(kPale);
      pen_.line({kLeft, y}, {kRight, y}, 1);
      pen_.ink(kGrey);
      pen_.write(scale_.label(at), {kLeft - 8, y + 4}, Align::kEnd);
    }
  }

  // As many of the days as there is room for.
  void draw_days() {
    pen_.ink(kGrey);
    double free_from = 0;
    for (std::size_t i = 0; i < chart_.days.size(); ++i) {
      const std::string day = pen_.fitting(one_line(chart_.days[i]), 80);
      const double half = pen_.width_of(day) / 2;
      if (x_of(i) - half < free_from) continue;
      pen_.write(day, {x_of(i), kBottom + 20}, Align::kMiddle);
      free_from = x_of(i) + half + 6;
    }
  }

  void draw_keep_above(const WeekChart::Line& line, std::size_t index) {
    const auto y = scale_.y(line.keep_above);
    if (!y) return;
    const LineStyle style = line_style(index);
    pen_.ink(style.colour);
    pen_.line({kLeft, *y}, {kRight, *y}, 1.2, kKeepAboveDash);
    // Side by side, for places may have it in common.
    pen_.mark(style.mark, {kLeft + 6 + 11 * static_cast<double>(index % 3), *y});
  }

  void draw_band(const WeekChart::Line& line, const LineStyle& style) {
    pen_.ink(style.colour, 0.10);
    for (std::size_t day = 0; day + 1 < chart_.days.size(); ++day)
      fill_band(line, day);
  }

  // From one day to the next, where both are known.
  void fill_band(const WeekChart::Line& line, std::size_t day) {
    const std::array corners{point(line.lows, day), point(line.highs, day),
                             point(line.highs, day + 1), point(line.lows, day + 1)};
    if (!std::ranges::all_of(corners, [](const auto& one) { return one.has_value(); })) {
      return;
    }
    pen_.begin();
    for (const auto& corner : corners)
      pen_.line_to(*corner);
    pen_.fill();
  }

  void draw_lines(const WeekChart::Line& line, const LineStyle& style) {
    pen_.ink(style.colour);
    draw_series(line.highs, style);
    draw_series(line.lows, style);
  }

  void draw_series(const Series& series, const LineStyle& style) {
    pen_.begin();
    bool going = false;
    for (std::size_t day = 0; day < chart_.days.size(); ++day) {
      const auto at = point(series, day);
      if (at && going) pen_.line_to(*at);
      if (at && !going) pen_.move_to(*at);
      going = at.has_value();
    }
    pen_.stroke(2, style.dash);
    for (std::size_t day = 0; day < chart_.days.size(); ++day) {
      if (const auto at = point(series, day)) pen_.mark(style.mark, *at);
    }
  }

  // Each beside the end of the place's highs.
  void draw_names() {
    std::vector<double> heights;
    for (const WeekChart::Line& line : chart_.lines)
      heights.push_back(last_height(line));
    for (const Placed& name : placed_apart(heights, kTop, kBottom, kNameHeight)) {
      if (name.at > kBottom) break;
      const LineStyle style = line_style(name.index);
      pen_.ink(style.colour);
      pen_.mark(style.mark, {kNamesAt, name.at});
      pen_.ink(kDark);
      const std::string place = one_line(chart_.lines[name.index].place);
      pen_.write(pen_.fitting(place, kWidth - kNamesAt - 18),
                 {kNamesAt + 11, name.at + 4});
    }
  }

  double last_height(const WeekChart::Line& line) const {
    for (std::size_t day = chart_.days.size(); day > 0; --day) {
      for (const Series* series : {&line.highs, &line.lows}) {
        if (const auto at = point(*series, day - 1)) return at->y;
      }
    }
    return kBottom;
  }

  Pen& pen_;
  const WeekChart& chart_;
  const Scale scale_;
};

}  // namespace

std::optional<std::string> week_picture(const WeekChart& chart) {
  Pen pen(PictureFormat::kPng, kWidth, kHeight);
  Drawing(pen, chart).draw();
  return pen.finish();
}

}  // namespace rimeward
