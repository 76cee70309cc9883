#include "tools/cli/chart/braille_canvas.h"

#include <array>
#include <string>
#include <utility>

#include <doctest/doctest.h>

namespace rimeward {
namespace {

// Each dot by its number in The Unicode Standard, Braille Patterns: the character that
// has this dot alone is BRAILLE PATTERN DOTS-n.
struct Dot {
  int x;
  int y;
  const char* character;
};

constexpr std::array kDots{Dot{0, 0, "\u2801"}, Dot{0, 1, "\u2802"}, Dot{0, 2, "\u2804"},
                           Dot{1, 0, "\u2808"}, Dot{1, 1, "\u2810"}, Dot{1, 2, "\u2820"},
                           Dot{0, 3, "\u2840"}, Dot{1, 3, "\u2880"}};

std::string row_text(const BrailleCanvas& canvas, std::size_t row) {
  std::string text;
  for (std::size_t column = 0; column < canvas.columns(); ++column)
    text += braille_character(canvas.dots(column, row));
  return text;
}

int dots_set(const BrailleCanvas& canvas) {
  int count = 0;
  for (std::size_t row = 0; row < canvas.rows(); ++row) {
    for (std::size_t column = 0; column < canvas.columns(); ++column) {
      for (int dots = canvas.dots(column, row); dots != 0; dots &= dots - 1)
        ++count;
    }
  }
  return count;
}

TEST_CASE("each dot of a cell is the braille pattern of its number") {
  for (const Dot& dot : kDots) {
    CAPTURE(dot.x);
    CAPTURE(dot.y);
    BrailleCanvas canvas(1, 1);
    canvas.set(dot.x, dot.y);
    CHECK(braille_character(canvas.dots(0, 0)) == dot.character);
  }
}

TEST_CASE("dots of one cell add up, to DOTS-12345678 when all are set") {
  BrailleCanvas canvas(1, 1);
  for (const Dot& dot : kDots)
    canvas.set(dot.x, dot.y);
  CHECK(braille_character(canvas.dots(0, 0)) == "\u28FF");
  canvas.set(0, 0);
  CHECK(canvas.dots(0, 0) == 0xFF);
}

TEST_CASE("a cell without dots is a space") {
  CHECK(braille_character(0) == " ");
  CHECK(ascii_character(0) == ' ');
}

TEST_CASE("a dot goes to the cell that it lies in, two across and four down to each") {
  BrailleCanvas canvas(3, 2);
  canvas.set(4, 6);
  CHECK(canvas.dots(2, 1) == 0x04);
  CHECK(dots_set(canvas) == 1);
}

TEST_CASE("what lies off the canvas is passed over") {
  BrailleCanvas canvas(2, 1);
  for (const auto& [x, y] :
       {std::pair{-1, 0}, {0, -1}, {4, 0}, {0, 4}, {1'000'000, 2}, {2, -1'000'000}}) {
    canvas.set(x, y);
  }
  CHECK(dots_set(canvas) == 0);
}

TEST_CASE("a line across sets each dot of its row") {
  BrailleCanvas canvas(3, 1);
  canvas.line(0, 3, 5, 3);
  CHECK(row_text(canvas, 0) == "\u28C0\u28C0\u28C0");
}

TEST_CASE("a line has no hole, and is the same both ways where it is straight") {
  for (const auto& [x, y] : {std::pair{19, 4}, {19, 27}, {3, 39}, {0, 39}, {19, 0}}) {
    CAPTURE(x);
    CAPTURE(y);
    BrailleCanvas canvas(10, 10);
    canvas.line(0, 0, x, y);
    // One dot for each step along the longer side.
    CHECK(dots_set(canvas) == std::max(x, y) + 1);
    canvas.line(x, y, x, y);
    CHECK(dots_set(canvas) == std::max(x, y) + 1);
  }
}

TEST_CASE("a line from a point to itself is one dot") {
  BrailleCanvas canvas(2, 2);
  canvas.line(2, 5, 2, 5);
  CHECK(dots_set(canvas) == 1);
  CHECK(canvas.dots(1, 1) == 0x02);
}

TEST_CASE("without UTF-8 a cell keeps the height of its dots") {
  CHECK(ascii_character(0x01) == '\'');
  CHECK(ascii_character(0x08) == '\'');
  CHECK(ascii_character(0x12) == '-');
  CHECK(ascii_character(0x24) == '-');
  CHECK(ascii_character(0x80) == '.');
  CHECK(ascii_character(0xFF) == '|');
}

}  // namespace
}  // namespace rimeward
