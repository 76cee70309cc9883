// A picture being drawn, as PNG or SVG, and what pictures have in common: colours, marks
// and dashes that tell lines apart, text that fits. The only home of Cairo. Lengths are
// pixels, y counts downwards. A pen is for one thread; there is no other state.

#pragma once

#include <cstddef>
#include <memory>
#include <optional>
#include <string>

namespace rimeward {

struct Colour {
  double red;  // 0 to 1, as the others
  double green;
  double blue;
};

enum class MarkShape { kDisc, kSquare, kTriangle, kDiamond, kCross };

// Lengths drawn and left out in turn.
struct Dash {
  double on;
  double off;  // 0: a whole line
};
inline constexpr Dash kWhole{1, 0};
inline constexpr Dash kKeepAboveDash{2, 5};

// What one of several lines is drawn with. The colours can be told apart by the
// colour-blind, and marks and dashes in black and white. The three have different counts,
// so that lines share all of them only from the 61st on.
struct LineStyle {
  Colour colour;
  MarkShape mark;
  Dash dash;
};
LineStyle line_style(std::size_t index);

struct Pixel {
  double x;
  double y;
};

enum class Align { kStart, kMiddle, kEnd };
enum class PictureFormat { kPng, kSvg };

class Pen {
 public:
  // A white sheet. Text is in the face "sans".
  Pen(PictureFormat format, int width, int height);
  ~Pen();
  Pen(const Pen&) = delete;
  Pen& operator=(const Pen&) = delete;

  void ink(const Colour& colour, double opacity = 1);
  void text_size(double size);
  // Until the next clip() or unclip(), nothing is drawn outside the box.
  void clip(Pixel corner, double width, double height);
  void unclip();

  // A path is begun, gone along, and ended by stroke() or fill().
  void begin();
  void move_to(Pixel to);
  void line_to(Pixel to);  // begins the path where there is none
  void stroke(double width, Dash dash = kWhole);
  void fill();

  void line(Pixel from, Pixel to, double width, Dash dash = kWhole);
  void box(Pixel corner, double width, double height);  // filled
  void mark(MarkShape shape, Pixel at);                 // about its middle

  // Text is one line of UTF-8 without control characters; other text makes finish() fail.
  double width_of(const std::string& text);
  // Cut between characters where it is too long, and then ends in an ellipsis.
  std::string fitting(const std::string& text, double widest);
  void write(const std::string& text, Pixel at, Align align = Align::kStart);

  // The file's bytes; the pen can draw no more. Nothing when something could not be
  // drawn, for want of memory or because a text is not UTF-8.
  std::optional<std::string> finish();

 private:
  struct Canvas;
  std::unique_ptr<Canvas> canvas_;
};

}  // namespace rimeward
