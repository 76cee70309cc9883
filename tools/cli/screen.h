// What the terminal can show, and text made fit for it: control characters escaped, plain
// ASCII where the locale knows no more, lines wrapped by display width. Pure but for
// screen_of_process(), which reads the environment.

#pragma once

#include <cstddef>
#include <string>
#include <string_view>

#include "daemon/base/columns.h"  // widths and wrapping, of what is printable()

namespace rimeward {

struct Screen {
  std::size_t width = 80;
  bool colour = false;
  bool utf8 = true;
};

// Colour only repeats what the words say.
enum class Style { kPlain, kHeading, kCold, kWarm, kUrgent };

// Width from COLUMNS, else from the terminal, else 80. Colour on a terminal that is not
// "dumb", unless NO_COLOR is set (no-color.org: to anything but the empty string).
// The locale is judged by LC_ALL, LC_CTYPE and LANG, in that order, as POSIX has it.
Screen screen_of_process();

// One line that is safe to print: control characters, marks that turn the direction of
// writing and bytes that are not UTF-8 are shown as \xNN or \u{NNNN}, line ends too.
// Without UTF-8, common letters and signs are spelled in ASCII and others become "?".
std::string printable(std::string_view text, const Screen& screen);

// Paragraphs of outside text: made printable, wrapped at the screen's width and indented,
// each line with its newline. Line feeds in `text` end paragraphs.
std::string paragraphs(std::string_view text, std::size_t indent, const Screen& screen);

std::string styled(std::string_view text, Style style, const Screen& screen);

}  // namespace rimeward
