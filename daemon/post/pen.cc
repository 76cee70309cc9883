#include "daemon/post/pen.h"

#include <algorithm>
#include <array>
#include <iterator>
#include <numbers>
#include <utility>
#include <vector>

#include <cairo/cairo-svg.h>
#include <cairo/cairo.h>

namespace rimeward {
namespace {

using Surface = std::unique_ptr<cairo_surface_t, decltype(&cairo_surface_destroy)>;
using Context = std::unique_ptr<cairo_t, decltype(&cairo_destroy)>;

constexpr double kMark = 4;  // half of a mark's width

// Told apart by the colour-blind: Okabe and Ito, "Color Universal Design" (2008); from
// memory.
constexpr std::array kColours{Colour{0.00, 0.45, 0.70}, Colour{0.84, 0.37, 0.00},
                              Colour{0.00, 0.62, 0.45}, Colour{0.80, 0.47, 0.65},
                              Colour{0.90, 0.62, 0.00}, Colour{0.20, 0.20, 0.20}};

constexpr std::array kMarks{MarkShape::kDisc, MarkShape::kSquare, MarkShape::kTriangle,
                            MarkShape::kDiamond, MarkShape::kCross};

constexpr std::array kDashes{kWhole, Dash{9, 4}, Dash{4, 3}, Dash{14, 3}};

cairo_status_t append(void* text, const unsigned char* bytes, unsigned length) {
  static_cast<std::string*>(text)->append(bytes, bytes + length);
  return CAIRO_STATUS_SUCCESS;
}

// `svg` must outlive the surface.
Surface surface_of(PictureFormat format, int width, int height, std::string& svg) {
  if (format == PictureFormat::kPng) {
    return {cairo_image_surface_create(CAIRO_FORMAT_RGB24, width, height),
            cairo_surface_destroy};
  }
  Surface surface(cairo_svg_surface_create_for_stream(append, &svg, width, height),
                  cairo_surface_destroy);
  cairo_svg_surface_set_document_unit(surface.get(), CAIRO_SVG_UNIT_PX);
  return surface;
}

// Where the characters of `text` but the first begin.
std::vector<std::size_t> cuts(const std::string& text) {
  std::vector<std::size_t> all;
  for (std::size_t i = 1; i < text.size(); ++i) {
    if ((static_cast<unsigned char>(text[i]) & 0xc0U) != 0x80U) all.push_back(i);
  }
  return all;
}

}  // namespace

LineStyle line_style(std::size_t index) {
  return {kColours.at(index % kColours.size()), kMarks.at(index % kMarks.size()),
          kDashes.at(index % kDashes.size())};
}

struct Pen::Canvas {
  Canvas(PictureFormat its_format, int width, int height)
      : format(its_format),
        surface(surface_of(format, width, height, svg)),
        context(cairo_create(surface.get()), cairo_destroy) {}

  PictureFormat format;
  std::string svg;
  Surface surface;
  Context context;
};

Pen::Pen(PictureFormat format, int width, int height)
    : canvas_(std::make_unique<Canvas>(format, width, height)) {
  cairo_t* context = canvas_->context.get();
  ink({1, 1, 1});
  cairo_paint(context);
  cairo_select_font_face(context, "sans", CAIRO_FONT_SLANT_NORMAL,
                         CAIRO_FONT_WEIGHT_NORMAL);
  cairo_set_line_join(context, CAIRO_LINE_JOIN_ROUND);
}

Pen::~Pen() = default;

void Pen::ink(const Colour& colour, double opacity) {
  cairo_set_source_rgba(canvas_->context.get(), colour.red, colour.green, colour.blue,
                        opacity);
}

void Pen::text_size(double size) {
  cairo_set_font_size(canvas_->context.get(), size);
}

void Pen::clip(Pixel corner, double width, double height) {
  unclip();
  begin();
  cairo_rectangle(canvas_->context.get(), corner.x, corner.y, width, height);
  cairo_clip(canvas_->context.get());
}

void Pen::unclip() {
  cairo_reset_clip(canvas_->context.get());
}

// Text leaves a point behind, which would become part of what follows.
void Pen::begin() {
  cairo_new_path(canvas_->context.get());
}

void Pen::move_to(Pixel to) {
  cairo_move_to(canvas_->context.get(), to.x, to.y);
}

void Pen::line_to(Pixel to) {
  cairo_line_to(canvas_->context.get(), to.x, to.y);
}

void Pen::stroke(double width, Dash dash) {
  cairo_t* context = canvas_->context.get();
  const std::array lengths{dash.on, dash.off};
  cairo_set_line_width(context, width);
  cairo_set_dash(context, lengths.data(),
                 dash.off == 0 ? 0 : static_cast<int>(lengths.size()), 0);
  cairo_stroke(context);
}

void Pen::fill() {
  cairo_fill(canvas_->context.get());
}

void Pen::line(Pixel from, Pixel to, double width, Dash dash) {
  begin();
  move_to(from);
  line_to(to);
  stroke(width, dash);
}

void Pen::box(Pixel corner, double width, double height) {
  begin();
  cairo_rectangle(canvas_->context.get(), corner.x, corner.y, width, height);
  fill();
}

void Pen::mark(MarkShape shape, Pixel at) {
  begin();
  switch (shape) {
    case MarkShape::kDisc:
      cairo_arc(canvas_->context.get(), at.x, at.y, kMark, 0, 2 * std::numbers::pi);
      break;
    case MarkShape::kSquare:
      return box({at.x - kMark, at.y - kMark}, 2 * kMark, 2 * kMark);
    case MarkShape::kTriangle:
      move_to({at.x, at.y - kMark - 1});
      line_to({at.x + kMark + 1, at.y + kMark});
      line_to({at.x - kMark - 1, at.y + kMark});
      break;
    case MarkShape::kDiamond:
      move_to({at.x, at.y - kMark - 2});
      line_to({at.x + kMark + 1, at.y});
      line_to({at.x, at.y + kMark + 2});
      line_to({at.x - kMark - 1, at.y});
      break;
    case MarkShape::kCross:
      move_to({at.x - kMark, at.y - kMark});
      line_to({at.x + kMark, at.y + kMark});
      move_to({at.x - kMark, at.y + kMark});
      line_to({at.x + kMark, at.y - kMark});
      return stroke(2.4);
  }
  fill();
}

double Pen::width_of(const std::string& text) {
  cairo_text_extents_t extents;
  cairo_text_extents(canvas_->context.get(), text.c_str(), &extents);
  return extents.x_advance;
}

std::string Pen::fitting(const std::string& text, double widest) {
  if (width_of(text) <= widest) return text;
  const auto all = cuts(text);
  const auto beyond = std::ranges::partition_point(all, [&](std::size_t cut) {
    return width_of(text.substr(0, cut) + "…") <= widest;
  });
  const std::size_t kept = beyond == all.begin() ? 0 : *std::prev(beyond);
  return text.substr(0, kept) + "…";
}

void Pen::write(const std::string& text, Pixel at, Align align) {
  double x = at.x;
  if (align == Align::kMiddle) x -= width_of(text) / 2;
  if (align == Align::kEnd) x -= width_of(text);
  move_to({x, at.y});
  cairo_show_text(canvas_->context.get(), text.c_str());
}

std::optional<std::string> Pen::finish() {
  if (cairo_status(canvas_->context.get()) != CAIRO_STATUS_SUCCESS) return std::nullopt;
  cairo_surface_t* surface = canvas_->surface.get();
  if (canvas_->format == PictureFormat::kSvg) {
    cairo_surface_finish(surface);
    const bool written = cairo_surface_status(surface) == CAIRO_STATUS_SUCCESS;
    return written ? std::optional(std::move(canvas_->svg)) : std::nullopt;
  }
  std::string png;
  const bool written =
      cairo_surface_write_to_png_stream(surface, append, &png) == CAIRO_STATUS_SUCCESS;
  return written ? std::optional(std::move(png)) : std::nullopt;
}

}  // namespace rimeward
