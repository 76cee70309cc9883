#include "daemon/post/picture.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <memory>
#include <string_view>
#include <vector>

#include <cairo/cairo.h>
#include <fmt/format.h>

#include "daemon/post/paragraphs.h"

namespace rimeward {
namespace {

using Surface = std::unique_ptr<cairo_surface_t, decltype(&cairo_surface_destroy)>;
using Pen = std::unique_ptr<cairo_t, decltype(&cairo_destroy)>;

// Pixels.
constexpr int kWidth = 720;
constexpr int kHeight = 360;
constexpr double kLeft = 64;
constexpr double kRight = 560;  // the names of the places stand right of it
constexpr double kTop = 40;
constexpr double kBottom = 326;
constexpr double kNameHeight = 16;
constexpr double kNamesAt = kRight + 14;
constexpr double kMark = 4;  // half of a mark's width
constexpr double kTextSize = 12;

// Degrees Celsius; no garden's air was ever beyond.
constexpr double kBelievable = 100;

struct Colour {
  double red;
  double green;
  double blue;
};

// Told apart by the colour-blind: Okabe and Ito, "Color Universal Design" (2008); from
// memory.
constexpr std::array kColours{Colour{0.00, 0.45, 0.70}, Colour{0.84, 0.37, 0.00},
                              Colour{0.00, 0.62, 0.45}, Colour{0.80, 0.47, 0.65},
                              Colour{0.90, 0.62, 0.00}, Colour{0.20, 0.20, 0.20}};

enum class Mark { kDisc, kSquare, kTriangle, kDiamond, kCross };
constexpr std::array kMarks{Mark::kDisc, Mark::kSquare, Mark::kTriangle, Mark::kDiamond,
                            Mark::kCross};

// On and off, in pixels; the first is a whole line.
constexpr std::array<std::array<double, 2>, 4> kDashes{{{1, 0}, {9, 4}, {4, 3}, {14, 3}}};
constexpr std::array<double, 2> kKeepAboveDash{2, 5};

// What a place is drawn with. Colours, marks and dashes have different counts, so that
// places share all three only from the 61st on.
struct Style {
  Colour colour;
  Mark mark;
  std::array<double, 2> dash;
};

Style style_of(std::size_t index) {
  return {kColours.at(index % kColours.size()), kMarks.at(index % kMarks.size()),
          kDashes.at(index % kDashes.size())};
}

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
    step_ = step_for(high - low);
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
  static double step_for(double span) {
    constexpr std::array kSteps{1.0, 2.0, 5.0, 10.0, 20.0};
    const auto fits = [&](double step) { return span <= 7 * step; };
    const auto found = std::ranges::find_if(kSteps, fits);
    return found == kSteps.end() ? 50.0 : *found;
  }
  std::optional<double> shown(const std::optional<Celsius>& temperature) const {
    if (!temperature || !(std::abs(temperature->degrees) <= kBelievable)) return {};
    return in_fahrenheit_ ? temperature->degrees * 1.8 + 32 : temperature->degrees;
  }

  bool in_fahrenheit_;
  double low_ = 0;
  double high_ = 1;
  double step_ = 1;
};

enum class Align { kStart, kMiddle, kEnd };

class Drawing {
 public:
  Drawing(cairo_t* pen, const WeekChart& chart)
      : pen_(pen), chart_(chart), scale_(chart) {}

  void draw() {
    cairo_set_source_rgb(pen_, 1, 1, 1);
    cairo_paint(pen_);
    cairo_select_font_face(pen_, "sans", CAIRO_FONT_SLANT_NORMAL,
                           CAIRO_FONT_WEIGHT_NORMAL);
    cairo_set_line_join(pen_, CAIRO_LINE_JOIN_ROUND);
    draw_title();
    draw_degrees();
    draw_days();
    // Each kind of thing for all places, so that no band lies over a line.
    for (std::size_t i = 0; i < chart_.lines.size(); ++i)
      draw_band(chart_.lines[i], style_of(i));
    for (std::size_t i = 0; i < chart_.lines.size(); ++i)
      draw_keep_above(chart_.lines[i], i);
    for (std::size_t i = 0; i < chart_.lines.size(); ++i)
      draw_lines(chart_.lines[i], style_of(i));
    draw_names();
  }

 private:
  using Series = std::vector<std::optional<Celsius>>;
  struct Point {
    double x;
    double y;
  };

  double x_of(std::size_t day) const {
    const auto days = static_cast<double>(std::max<std::size_t>(1, chart_.days.size()));
    return kLeft + (static_cast<double>(day) + 0.5) * (kRight - kLeft) / days;
  }

  std::optional<Point> point(const Series& series, std::size_t day) const {
    if (day >= series.size()) return std::nullopt;
    const auto y = scale_.y(series[day]);
    return y ? std::optional(Point{x_of(day), *y}) : std::nullopt;
  }

  void ink(const Colour& colour, double opacity = 1) {
    cairo_set_source_rgba(pen_, colour.red, colour.green, colour.blue, opacity);
  }

  void stroke(double width, const std::array<double, 2>& dash) {
    const bool whole = dash[1] == 0;
    cairo_set_line_width(pen_, width);
    cairo_set_dash(pen_, dash.data(), whole ? 0 : static_cast<int>(dash.size()), 0);
    cairo_stroke(pen_);
  }

  double width_of(const std::string& text) {
    cairo_text_extents_t extents;
    cairo_text_extents(pen_, text.c_str(), &extents);
    return extents.x_advance;
  }

  // Cut between characters where it is too long.
  std::string fitting(std::string text, double widest) {
    if (width_of(text) <= widest) return text;
    while (!text.empty() && width_of(text + "…") > widest) {
      while (text.size() > 1 &&
             (static_cast<unsigned char>(text.back()) & 0xc0U) == 0x80U)
        text.pop_back();
      text.pop_back();
    }
    return text + "…";
  }

  void write(const std::string& text, Point at, Align align) {
    double x = at.x;
    if (align == Align::kMiddle) x -= width_of(text) / 2;
    if (align == Align::kEnd) x -= width_of(text);
    cairo_move_to(pen_, x, at.y);
    cairo_show_text(pen_, text.c_str());
  }

  void draw_title() {
    ink({0.1, 0.1, 0.1});
    cairo_set_font_size(pen_, 15);
    write(fitting(one_line(chart_.title), kWidth - 24), {12, 22}, Align::kStart);
  }

  void draw_degrees() {
    cairo_set_font_size(pen_, kTextSize);
    const double half_a_step = scale_.step() / 2;
    for (double at = scale_.low(); at < scale_.high() + half_a_step;
         at += scale_.step()) {
      const double y = std::round(scale_.y_of(at)) + 0.5;
      ink({0.85, 0.85, 0.85});
      cairo_move_to(pen_, kLeft, y);
      cairo_line_to(pen_, kRight, y);
      stroke(1, kDashes[0]);
      ink({0.25, 0.25, 0.25});
      write(scale_.label(at), {kLeft - 8, y + 4}, Align::kEnd);
    }
  }

  // As many of the days as there is room for.
  void draw_days() {
    ink({0.25, 0.25, 0.25});
    double free_from = 0;
    for (std::size_t i = 0; i < chart_.days.size(); ++i) {
      const std::string day = fitting(one_line(chart_.days[i]), 80);
      const double half = width_of(day) / 2;
      if (x_of(i) - half < free_from) continue;
      write(day, {x_of(i), kBottom + 20}, Align::kMiddle);
      free_from = x_of(i) + half + 6;
    }
  }

  void draw_keep_above(const WeekChart::Line& line, std::size_t index) {
    const auto y = scale_.y(line.keep_above);
    if (!y) return;
    const Style style = style_of(index);
    ink(style.colour);
    cairo_move_to(pen_, kLeft, *y);
    cairo_line_to(pen_, kRight, *y);
    stroke(1.2, kKeepAboveDash);
    // Side by side, for places may have it in common.
    draw_mark(style.mark, {kLeft + 6 + 11 * static_cast<double>(index % 3), *y});
  }

  void draw_band(const WeekChart::Line& line, const Style& style) {
    ink(style.colour, 0.10);
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
    cairo_new_path(pen_);  // text leaves a point behind
    for (const auto& corner : corners)
      cairo_line_to(pen_, corner->x, corner->y);
    cairo_fill(pen_);
  }

  void draw_lines(const WeekChart::Line& line, const Style& style) {
    ink(style.colour);
    draw_series(line.highs, style);
    draw_series(line.lows, style);
  }

  void draw_series(const Series& series, const Style& style) {
    bool going = false;
    for (std::size_t day = 0; day < chart_.days.size(); ++day) {
      const auto at = point(series, day);
      if (at && going) cairo_line_to(pen_, at->x, at->y);
      if (at && !going) cairo_move_to(pen_, at->x, at->y);
      going = at.has_value();
    }
    stroke(2, style.dash);
    for (std::size_t day = 0; day < chart_.days.size(); ++day) {
      if (const auto at = point(series, day)) draw_mark(style.mark, *at);
    }
  }

  void draw_mark(Mark mark, Point at) {
    cairo_new_path(pen_);
    switch (mark) {
      case Mark::kDisc:
        cairo_arc(pen_, at.x, at.y, kMark, 0, 2 * 3.14159265358979);
        break;
      case Mark::kSquare:
        cairo_rectangle(pen_, at.x - kMark, at.y - kMark, 2 * kMark, 2 * kMark);
        break;
      case Mark::kTriangle:
        cairo_move_to(pen_, at.x, at.y - kMark - 1);
        cairo_line_to(pen_, at.x + kMark + 1, at.y + kMark);
        cairo_line_to(pen_, at.x - kMark - 1, at.y + kMark);
        break;
      case Mark::kDiamond:
        cairo_move_to(pen_, at.x, at.y - kMark - 2);
        cairo_line_to(pen_, at.x + kMark + 1, at.y);
        cairo_line_to(pen_, at.x, at.y + kMark + 2);
        cairo_line_to(pen_, at.x - kMark - 1, at.y);
        break;
      case Mark::kCross:
        cairo_move_to(pen_, at.x - kMark, at.y - kMark);
        cairo_line_to(pen_, at.x + kMark, at.y + kMark);
        cairo_move_to(pen_, at.x - kMark, at.y + kMark);
        cairo_line_to(pen_, at.x + kMark, at.y - kMark);
        return stroke(2.4, kDashes[0]);
    }
    cairo_fill(pen_);
  }

  struct Name {
    std::size_t line;
    double y;
  };

  // Each beside the end of the place's highs, in the order of their height, and moved
  // apart where they would cover each other.
  std::vector<Name> names() const {
    std::vector<Name> all;
    for (std::size_t i = 0; i < chart_.lines.size(); ++i)
      all.push_back({i, last_height(chart_.lines[i])});
    std::ranges::stable_sort(all, {}, &Name::y);
    double limit = kBottom;
    for (auto name = all.rbegin(); name != all.rend(); ++name) {
      name->y = std::min(name->y, limit);
      limit = name->y - kNameHeight;
    }
    // After this pass, so that what there is no room for is below, not above.
    limit = kTop;
    for (Name& name : all) {
      name.y = std::max(name.y, limit);
      limit = name.y + kNameHeight;
    }
    return all;
  }

  void draw_names() {
    for (const Name& name : names()) {
      if (name.y > kBottom) break;
      const Style style = style_of(name.line);
      ink(style.colour);
      draw_mark(style.mark, {kNamesAt, name.y});
      ink({0.1, 0.1, 0.1});
      const std::string place = one_line(chart_.lines[name.line].place);
      write(fitting(place, kWidth - kNamesAt - 18), {kNamesAt + 11, name.y + 4},
            Align::kStart);
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

  cairo_t* pen_;
  const WeekChart& chart_;
  const Scale scale_;
};

cairo_status_t append(void* png, const unsigned char* bytes, unsigned length) {
  static_cast<std::string*>(png)->append(bytes, bytes + length);
  return CAIRO_STATUS_SUCCESS;
}

}  // namespace

std::optional<std::string> week_picture(const WeekChart& chart) {
  const Surface surface(cairo_image_surface_create(CAIRO_FORMAT_RGB24, kWidth, kHeight),
                        cairo_surface_destroy);
  const Pen pen(cairo_create(surface.get()), cairo_destroy);
  Drawing(pen.get(), chart).draw();
  std::string png;
  const bool drawn = cairo_status(pen.get()) == CAIRO_STATUS_SUCCESS &&
                     cairo_surface_write_to_png_stream(surface.get(), append, &png) ==
                         CAIRO_STATUS_SUCCESS;
  return drawn ? std::optional(std::move(png)) : std::nullopt;
}

}  // namespace rimeward
