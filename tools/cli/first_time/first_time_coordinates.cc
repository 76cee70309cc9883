#include "tools/cli/first_time/first_time_coordinates.h"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <cstdint>
#include <optional>
#include <span>
#include <vector>

#include <fmt/format.h>

#include "sensors/escape.h"
#include "sensors/utf8.h"

namespace rimeward {
namespace {

constexpr double kFinest = 10'000;  // parts of a degree
constexpr std::size_t kLongestNumber = 20;
constexpr std::string_view kForms =
    "write both in degrees, such as 48.41, 9.52 or 48.41 N 9.52 E or 48°24'36\"N "
    "9°31'12\"E";

// A mark that people write for minus, degrees, minutes or seconds, and what it is here.
struct Sign {
  char32_t written;
  char meant;
};

constexpr std::array kSigns{
    Sign{U'°', 'd'}, Sign{U'º', 'd'}, Sign{U'˚', 'd'}, Sign{U'\'', 'm'}, Sign{U'′', 'm'},
    Sign{U'’', 'm'}, Sign{U'´', 'm'}, Sign{U'"', 's'}, Sign{U'″', 's'},  Sign{U'”', 's'},
    Sign{U'−', '-'}, Sign{U'–', '-'}, Sign{U'-', '-'}, Sign{U'+', '+'},  Sign{U',', ','},
    Sign{U';', ';'}, Sign{U'N', 'N'}, Sign{U'n', 'N'}, Sign{U'S', 'S'},  Sign{U's', 'S'},
    Sign{U'E', 'E'}, Sign{U'e', 'E'}, Sign{U'W', 'W'}, Sign{U'w', 'W'},
};

// A number, or one of the letters and signs that kSigns means.
struct Piece {
  char kind = '0';  // '0': a number
  double number = 0;
};

using Pieces = std::span<const Piece>;

bool is_digit(char letter) {
  return letter >= '0' && letter <= '9';
}

bool is_letter(char kind) {
  return kind == 'N' || kind == 'S' || kind == 'E' || kind == 'W';
}

bool is_separator(char kind) {
  return kind == ',' || kind == ';';
}

bool is_between_digits(std::string_view text, std::size_t at) {
  return at > 0 && at + 1 < text.size() && is_digit(text[at - 1]) &&
         is_digit(text[at + 1]);
}

// A comma between two digits is the decimal mark where there are several and no point, or
// where something else divides the two numbers; else it divides them itself.
bool has_decimal_commas(std::string_view text) {
  if (text.find('.') != std::string_view::npos) return false;
  int between = 0;
  for (std::size_t at = 0; at < text.size(); ++at) {
    if (text[at] == ',' && is_between_digits(text, at)) ++between;
  }
  return between > 1 ||
         (between == 1 && text.find_first_of(";NSEWnsew") != std::string_view::npos);
}

// The number that `text` begins with, which is taken from it.
std::optional<double> take_number(std::string_view& text, bool commas) {
  std::string digits;
  while (!text.empty()) {
    const bool mark = text[0] == '.' || (text[0] == ',' && commas && text.size() > 1 &&
                                         is_digit(text[1]) && !digits.empty());
    if (!is_digit(text[0]) && !mark) break;
    digits += mark ? '.' : text[0];
    text.remove_prefix(1);
  }
  double number = 0;
  const char* end = digits.data() + digits.size();
  const auto read = std::from_chars(digits.data(), end, number);
  if (digits.size() > kLongestNumber || read.ec != std::errc{} || read.ptr != end) {
    return std::nullopt;
  }
  return number;
}

// The sign that `text` begins with, which is taken from it; a blank is '\0'. Nothing when
// it is none that stands in coordinates.
std::optional<char> take_sign(std::string_view& text) {
  const auto character = first_character(text);
  if (!character) return std::nullopt;
  text.remove_prefix(character->length);
  if (character->code == U' ' || character->code == U'\t') return '\0';
  const auto* sign = std::ranges::find(kSigns, character->code, &Sign::written);
  return sign == kSigns.end() ? std::nullopt : std::optional(sign->meant);
}

void add_sign(std::vector<Piece>& pieces, char sign) {
  if (sign == '\0') return;
  // Seconds are also written with two marks of minutes.
  if (sign == 'm' && !pieces.empty() && pieces.back().kind == 'm') {
    pieces.back().kind = 's';
  } else {
    pieces.push_back({sign, 0});
  }
}

std::optional<std::vector<Piece>> pieces_of(std::string_view text) {
  const bool commas = has_decimal_commas(text);
  std::vector<Piece> pieces;
  while (!text.empty()) {
    if (is_digit(text[0]) || text[0] == '.') {
      const auto number = take_number(text, commas);
      if (!number) return std::nullopt;
      pieces.push_back({'0', *number});
    } else {
      const auto sign = take_sign(text);
      if (!sign) return std::nullopt;
      add_sign(pieces, *sign);
    }
  }
  return pieces;
}

// Where the pieces stand that `is_meant` holds for.
template <class IsMeant>
std::vector<std::size_t> where(Pieces pieces, IsMeant is_meant) {
  std::vector<std::size_t> found;
  for (std::size_t i = 0; i < pieces.size(); ++i) {
    if (is_meant(pieces[i].kind)) found.push_back(i);
  }
  return found;
}

// The place of a number, or of the sign before it.
std::size_t with_sign(Pieces pieces, std::size_t number) {
  const char before = number > 0 ? pieces[number - 1].kind : '0';
  return before == '-' || before == '+' ? number - 1 : number;
}

// Where the second of the two angles begins; a separator belongs to neither. 0: not told.
std::size_t middle_of(Pieces pieces) {
  const auto separators = where(pieces, is_separator);
  if (!separators.empty()) return separators.front();
  const auto letters = where(pieces, is_letter);
  if (letters.size() == 2) return letters[0] == 0 ? letters[1] : letters[0] + 1;
  const auto degrees = where(pieces, [](char kind) { return kind == 'd'; });
  if (degrees.size() == 2) return with_sign(pieces, degrees[1] - 1);
  const auto numbers = where(pieces, [](char kind) { return kind == '0'; });
  return numbers.size() == 2 ? with_sign(pieces, numbers[1]) : 0;
}

struct Angle {
  double degrees = 0;
  char letter = 0;  // 0: none
};

// Degrees, minutes and seconds, each perhaps with its mark.
std::optional<double> degrees_of(Pieces pieces) {
  constexpr std::array kMarks{'d', 'm', 's'};
  constexpr std::array kParts{1.0, 60.0, 3600.0};
  double degrees = 0;
  std::size_t part = 0;
  bool whole = true;  // only the last may have a fraction
  while (!pieces.empty()) {
    const double number = pieces[0].number;
    if (part == kParts.size() || pieces[0].kind != '0' || !whole) return std::nullopt;
    if (part > 0 && number >= 60) return std::nullopt;
    degrees += number / kParts.at(part);
    whole = number == std::floor(number);
    pieces = pieces.subspan(1);
    if (!pieces.empty() && pieces[0].kind == kMarks.at(part)) pieces = pieces.subspan(1);
    ++part;
  }
  return part == 0 ? std::nullopt : std::optional(degrees);
}

Result<Angle> angle_of(Pieces pieces) {
  Angle angle;
  const auto take_letter = [&](std::size_t at) {
    if (pieces.empty() || angle.letter != 0 || !is_letter(pieces[at].kind)) return;
    angle.letter = pieces[at].kind;
    pieces = pieces.subspan(at == 0 ? 1 : 0, pieces.size() - 1);
  };
  take_letter(0);
  take_letter(pieces.empty() ? 0 : pieces.size() - 1);
  bool minus = false;
  if (!pieces.empty() && (pieces[0].kind == '-' || pieces[0].kind == '+')) {
    minus = pieces[0].kind == '-';
    pieces = pieces.subspan(1);
  }
  const auto degrees = degrees_of(pieces);
  if (!degrees) return refuse(std::string(kForms));
  if (minus && angle.letter != 0) {
    return refuse(
        fmt::format("a minus and {} say the same twice, or the opposite: "
                    "leave one out",
                    angle.letter));
  }
  const bool negative = minus || angle.letter == 'S' || angle.letter == 'W';
  // To the same decimal number whether it was written so or as minutes.
  angle.degrees = std::round(*degrees * kFinest) / kFinest * (negative ? -1 : 1);
  angle.degrees += 0.0;  // no minus before a zero
  return angle;
}

bool is_of_latitude(const Angle& angle) {
  return angle.letter == 'N' || angle.letter == 'S';
}

bool is_of_longitude(const Angle& angle) {
  return angle.letter == 'E' || angle.letter == 'W';
}

Result<Position> position_of(Angle latitude, Angle longitude) {
  if (is_of_longitude(latitude) || is_of_latitude(longitude))
    std::swap(latitude, longitude);
  if (is_of_longitude(latitude) || is_of_latitude(longitude)) {
    return refuse("one of N or S and one of E or W is wanted");
  }
  if (std::abs(latitude.degrees) > 90) {
    return refuse(fmt::format(
        "latitude {:g} lies beyond the pole: it goes from -90 (south) to 90 (north) and "
        "comes first, then the longitude",
        latitude.degrees));
  }
  if (std::abs(longitude.degrees) > 180) {
    return refuse(
        fmt::format("longitude {:g} is out of range: it goes from -180 (west) to 180 "
                    "(east)",
                    longitude.degrees));
  }
  return Position{.latitude = latitude.degrees, .longitude = longitude.degrees};
}

}  // namespace

Result<Position> position_from_text(std::string_view text) {
  const auto pieces = pieces_of(text);
  const std::size_t middle = pieces ? middle_of(*pieces) : 0;
  if (middle == 0) {
    return refuse(fmt::format("\"{}\" is not two numbers that can be told apart: {}",
                              escaped(text), kForms));
  }
  const Pieces all(*pieces);
  const bool divided = is_separator(all[middle].kind);
  const auto first = angle_of(all.first(middle));
  if (!first) return tl::unexpected(first.error());
  const auto second = angle_of(all.subspan(divided ? middle + 1 : middle));
  if (!second) return tl::unexpected(second.error());
  return position_of(*first, *second);
}

std::string position_text(Position position) {
  return fmt::format("{} {}, {} {}", std::abs(position.latitude),
                     position.latitude < 0 ? "south" : "north",
                     std::abs(position.longitude),
                     position.longitude < 0 ? "west" : "east");
}

}  // namespace rimeward
