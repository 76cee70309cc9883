#include "tools/cli/screen.h"

#include <algorithm>
#include <array>
#include <cctype>
#include <charconv>
#include <cstdint>
#include <cstdlib>
#include <optional>

#include <fmt/format.h>
#include <sys/ioctl.h>
#include <unistd.h>

#include "sensors/utf8.h"

namespace rimeward {
namespace {

struct Range {
  char32_t first;
  char32_t last;
};

// C0, DEL and C1 controls, soft hyphen, zero-width and bidirectional marks, line and
// paragraph separators, the byte order mark and tags: nothing that a name needs.
constexpr std::array kEscaped{
    Range{0x0, 0x1F},      Range{0x7F, 0x9F},     Range{0xAD, 0xAD},
    Range{0x61C, 0x61C},   Range{0x200B, 0x200F}, Range{0x2028, 0x202E},
    Range{0x2060, 0x206F}, Range{0xFEFF, 0xFEFF}, Range{0xE0000, 0xE007F}};

struct Spelling {
  char32_t character;
  std::string_view ascii;
};

constexpr std::array kSpellings{
    Spelling{U'°', ""},   Spelling{U'–', "-"},   Spelling{U'—', "-"},
    Spelling{U'−', "-"},  Spelling{U'…', "..."}, Spelling{U'‘', "'"},
    Spelling{U'’', "'"},  Spelling{U'“', "\""},  Spelling{U'”', "\""},
    Spelling{0xA0, " "},  Spelling{U'×', "x"},   Spelling{U'ä', "ae"},
    Spelling{U'ö', "oe"}, Spelling{U'ü', "ue"},  Spelling{U'Ä', "Ae"},
    Spelling{U'Ö', "Oe"}, Spelling{U'Ü', "Ue"},  Spelling{U'ß', "ss"},
    Spelling{U'à', "a"},  Spelling{U'á', "a"},   Spelling{U'â', "a"},
    Spelling{U'å', "a"},  Spelling{U'æ', "ae"},  Spelling{U'ç', "c"},
    Spelling{U'è', "e"},  Spelling{U'é', "e"},   Spelling{U'ê', "e"},
    Spelling{U'ë', "e"},  Spelling{U'í', "i"},   Spelling{U'î', "i"},
    Spelling{U'ñ', "n"},  Spelling{U'ó', "o"},   Spelling{U'ô', "o"},
    Spelling{U'ø', "o"},  Spelling{U'ú', "u"},   Spelling{U'û', "u"},
};

bool is_escaped(char32_t character) {
  return std::ranges::any_of(kEscaped, [character](const Range& range) {
    return range.first <= character && character <= range.last;
  });
}

std::string spelled(char32_t character) {
  const auto* const found =
      std::ranges::find(kSpellings, character, &Spelling::character);
  return std::string(found == kSpellings.end() ? "?" : found->ascii);
}

std::string one_printable(std::optional<Utf8Character> character, std::string_view bytes,
                          bool utf8) {
  if (!character) {
    return fmt::format("\\x{:02x}", static_cast<unsigned char>(bytes.front()));
  }
  if (is_escaped(character->code)) {
    const auto code = static_cast<std::uint32_t>(character->code);
    return code < 0x80 ? fmt::format("\\x{:02x}", code)
                       : fmt::format("\\u{{{:x}}}", code);
  }
  if (character->code < 0x80 || utf8) {
    return std::string(bytes.substr(0, character->length));
  }
  return spelled(character->code);
}

std::string_view environment(const char* name) {
  // The client has one thread.
  const char* const value = std::getenv(name);  // NOLINT(concurrency-mt-unsafe)
  return value == nullptr ? std::string_view{} : std::string_view(value);
}

bool locale_is_utf8() {
  std::string_view chosen;
  for (const char* name : {"LC_ALL", "LC_CTYPE", "LANG"}) {
    chosen = environment(name);
    if (!chosen.empty()) break;
  }
  std::string lowered;
  for (const char c : chosen) {
    if (c == '-') continue;
    lowered += static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  }
  return lowered.find("utf8") != std::string::npos;
}

std::size_t columns_of_process() {
  // Below 20 columns nothing can be read in a table, above 1,000 a paragraph.
  constexpr std::size_t least = 20;
  constexpr std::size_t most = 1000;
  std::size_t columns = 0;
  const std::string_view told = environment("COLUMNS");
  const auto read = std::from_chars(told.data(), told.data() + told.size(), columns);
  if (read.ec == std::errc{} && read.ptr == told.data() + told.size() && columns > 0) {
    return std::clamp(columns, least, most);
  }
  winsize size{};
  if (ioctl(STDOUT_FILENO, TIOCGWINSZ, &size) == 0 && size.ws_col > 0) {
    return std::clamp<std::size_t>(size.ws_col, least, most);
  }
  return Screen{}.width;
}

}  // namespace

Screen screen_of_process() {
  const bool terminal = isatty(STDOUT_FILENO) == 1 && environment("TERM") != "dumb";
  return {.width = columns_of_process(),
          .colour = terminal && environment("NO_COLOR").empty(),
          .utf8 = locale_is_utf8()};
}

std::string printable(std::string_view text, const Screen& screen) {
  std::string result;
  result.reserve(text.size());
  while (!text.empty()) {
    const auto next = first_character(text);
    result += one_printable(next, text, screen.utf8);
    text.remove_prefix(next ? next->length : 1);
  }
  return result;
}

std::string paragraphs(std::string_view text, std::size_t indent, const Screen& screen) {
  const std::size_t width = std::max<std::size_t>(screen.width, indent + 20) - indent;
  std::string result;
  while (!text.empty()) {
    const std::size_t end = std::min(text.find('\n'), text.size());
    for (const std::string& line :
         wrapped(printable(text.substr(0, end), screen), width)) {
      if (!line.empty()) result.append(indent, ' ') += line;
      result += '\n';
    }
    text.remove_prefix(std::min(end + 1, text.size()));
  }
  return result;
}

std::string styled(std::string_view text, Style style, const Screen& screen) {
  // ECMA-48, select graphic rendition: 1 bold, 31 red, 34 blue, 33 yellow.
  constexpr std::array<std::string_view, 5> codes{"", "1", "34", "31", "1;33"};
  const std::string_view code = codes.at(static_cast<std::size_t>(style));
  if (!screen.colour || code.empty() || text.empty()) return std::string(text);
  return fmt::format("\x1b[{}m{}\x1b[0m", code, text);
}

}  // namespace rimeward
