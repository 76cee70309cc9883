#include "tools/cli/chart/chart_screen.h"

#include <algorithm>
#include <array>
#include <cctype>
#include <cmath>

#include <fmt/format.h>

namespace rimeward {
namespace {

constexpr std::size_t kNarrowest = 40;
constexpr std::size_t kWidest = 200;
constexpr std::size_t kNamesFrom = 100;  // columns, from which names stand at the right
constexpr std::size_t kLongestName = 16;
constexpr int kMostRows = 20;
constexpr int kMostSteps = 6;
constexpr int kDotsDown = 4;
// Of the axis and the space before it.
constexpr std::size_t kAxis = 2;
// "notice" and "cover N".
constexpr std::size_t kRowLabel = 7;

// The next round step: 1, 2 or 5 times a power of ten.
double rounder(double step) {
  const double power = std::pow(10, std::floor(std::log10(step) + 1e-9));
  const double digit = std::round(step / power);
  return digit < 2 ? 2 * power : (digit < 5 ? 5 * power : 10 * power);
}

// What is worth showing as a difference; invented, by how finely cheap sensors report.
double least_shown(std::string_view unit) {
  if (unit == "°C") return 4;
  if (unit == "°F") return 8;
  if (unit == "V") return 0.5;
  return unit == "lx" ? 100 : 10;
}

int decimals_of(std::string_view unit) {
  if (unit == "°C" || unit == "°F") return 1;
  return unit == "V" ? 2 : 0;
}

struct Range {
  double low = 0;
  double high = 0;
  void take(double value) {
    low = std::min(low, value);
    high = std::max(high, value);
  }
};

// A mark that is near enough to what was read is worth its room.
void take_if_near(Range& range, std::optional<double> mark) {
  if (!mark) return;
  const double room = std::max(range.high - range.low, 4.0) / 2;
  if (range.low - *mark < room && *mark - range.high < room) range.take(*mark);
}

Range range_of(const ChartAnswer& answer) {
  std::optional<Range> range;
  for (const ChartCurve& curve : answer.curves) {
    if (!curve.low || !curve.high) continue;
    if (!range) range = Range{curve.low->value, curve.high->value};
    range->take(curve.low->value);
    range->take(curve.high->value);
  }
  Range shown = range.value_or(Range{});
  for (const Chart::Line& line : answer.chart.lines)
    take_if_near(shown, line.keep_above);
  return shown;
}

std::size_t widest_label(const ValueScale& scale) {
  std::size_t widest = 0;
  for (std::size_t row = 0; row < scale.rows(); ++row)
    widest = std::max(widest, scale.label(row).value_or("").size());
  return widest;
}

std::vector<std::string> names_at_right(const ChartAnswer& answer, const Screen& screen,
                                        const std::vector<std::string>& letters) {
  if (letters.size() < 2) return std::vector<std::string>(letters.size());
  std::vector<std::string> names;
  std::size_t widest = 0;
  for (const Chart::Line& line : answer.chart.lines) {
    names.push_back(printable(line.place, screen));
    widest = std::max(widest, display_width(names.back()));
  }
  return screen.width >= kNamesFrom && widest <= kLongestName ? names : letters;
}

std::size_t widest_of(const std::vector<std::string>& names) {
  std::size_t widest = 0;
  for (const std::string& name : names)
    widest = std::max(widest, display_width(name));
  return widest;
}

bool is_taken(const std::vector<std::string>& letters, char letter) {
  return std::ranges::find(letters, std::string(1, letter)) != letters.end();
}

std::string letter_for(std::string_view name, const std::vector<std::string>& taken) {
  constexpr std::string_view others = "ABCDEFGHIJKLMNOPQRSTUVWXYZ123456789";
  std::string wishes;
  for (const char c : name) {
    const auto byte = static_cast<unsigned char>(c);
    if (byte < 0x80 && std::isalnum(byte) != 0) {
      wishes += static_cast<char>(std::toupper(byte));
    }
  }
  wishes += others;
  const auto found = std::ranges::find_if(
      wishes, [&taken](char letter) { return !is_taken(taken, letter); });
  return found == wishes.end() ? "?" : std::string(1, *found);
}

}  // namespace

bool ValueScale::holds(double value) const {
  const double row = value / step * rows_per_step;
  return bottom <= row && row <= top;
}

std::size_t ValueScale::row_of(double value) const {
  return static_cast<std::size_t>(std::lround(top - value / step * rows_per_step));
}

// A row's own value lies between its two middle dots.
int ValueScale::dot_of(double value) const {
  const double rows = top - value / step * rows_per_step;
  return static_cast<int>(std::floor(rows * kDotsDown + kDotsDown / 2.0));
}

std::optional<std::string> ValueScale::label(std::size_t row) const {
  const int upwards = top - static_cast<int>(row);
  if (upwards % rows_per_step != 0) return std::nullopt;
  const int decimals =
      std::max(0, -static_cast<int>(std::floor(std::log10(step) + 1e-9)));
  // Adding zero turns a -0.0 into 0.0.
  return fmt::format("{:.{}f}", step * (upwards / rows_per_step) + 0.0, decimals);
}

ValueScale scale_for(double low, double high, double least) {
  const double lacking = std::max(0.0, least - (high - low)) / 2;
  low -= lacking;
  high += lacking;
  ValueScale scale;
  scale.step = std::pow(10, std::floor(std::log10(high - low)) - 1);
  while ((high - low) / scale.step > kMostSteps)
    scale.step = rounder(scale.step);
  // As many rows to a step as there is room for.
  for (scale.rows_per_step = kMostRows; scale.rows_per_step >= 1; --scale.rows_per_step) {
    const double row = scale.step / scale.rows_per_step;
    scale.top = static_cast<int>(std::ceil(high / row));
    scale.bottom = static_cast<int>(std::floor(low / row));
    if (scale.top - scale.bottom < kMostRows) break;
  }
  return scale;
}

std::vector<std::string> letters_for(const std::vector<std::string>& names) {
  std::vector<std::string> letters;
  for (const std::string& name : names)
    letters.push_back(letter_for(name, letters));
  return letters;
}

int ScreenLayout::dot_of(Instant at) const {
  const Chart::Span& span = chart().span;
  const double part = static_cast<double>((at - span.from).count()) /
                      static_cast<double>((span.to - span.from).count());
  const auto last = static_cast<double>(2 * columns - 1);
  return static_cast<int>(std::lround(std::clamp(part, 0.0, 1.0) * last));
}

std::size_t ScreenLayout::column_of(Instant at) const {
  return static_cast<std::size_t>(dot_of(at)) / 2;
}

ScreenLayout layout_of(const ChartAnswer& answer, const Zone& zone,
                       const Screen& screen) {
  const Range range = range_of(answer);
  ScreenLayout layout{.answer = answer,
                      .zone = zone,
                      .screen = screen,
                      .scale = {},
                      .letters = {},
                      .names = {}};
  layout.scale = scale_for(range.low, range.high, least_shown(answer.chart.unit));
  std::vector<std::string> places;
  for (const Chart::Line& line : answer.chart.lines)
    places.push_back(line.place);
  layout.letters =
      places.size() > 1 ? letters_for(places) : std::vector<std::string>(places.size());
  layout.names = names_at_right(answer, screen, layout.letters);
  const std::size_t width = std::clamp(screen.width, kNarrowest, kWidest);
  layout.left = std::max(widest_label(layout.scale), kRowLabel) + kAxis - 1;
  const std::size_t named = widest_of(layout.names);
  layout.columns = width - layout.left - 1 - (named == 0 ? 0 : named + 1);
  return layout;
}

std::optional<double> freezing_point(const Chart& chart) {
  if (chart.unit == "°C") return 0;
  if (chart.unit == "°F") return 32;
  return std::nullopt;
}

std::string chart_number(double value, std::string_view unit) {
  const int decimals = decimals_of(unit);
  const double factor = std::pow(10, decimals);
  return fmt::format("{:.{}f}", std::round(value * factor) / factor + 0.0, decimals);
}

}  // namespace rimeward
