#include "tools/cli/progress.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <vector>

#include <fmt/format.h>

#include "sensors/utf8.h"
#include "tools/cli/count_text.h"

namespace rimeward {
namespace {

using std::chrono::milliseconds;

// Before that a rate says more about the start than about the work.
constexpr milliseconds kTelling{500};
constexpr std::size_t kShortestBar = 8;
constexpr std::size_t kLongestBar = 30;
constexpr std::string_view kGap = "  ";

// 0 to 1; nothing where the total is not known.
std::optional<double> share_done(const Progress& progress) {
  if (!progress.total) return std::nullopt;
  if (*progress.total == 0) return 1;
  return std::min(
      1.0, static_cast<double>(progress.done) / static_cast<double>(*progress.total));
}

// Eighths of a column where the screen has them (Unicode, block elements).
std::string bar(double share, std::size_t columns, const Screen& screen) {
  constexpr std::array<std::string_view, 8> parts{"·", "▏", "▎", "▍", "▌", "▋", "▊", "▉"};
  const auto eighths = static_cast<std::size_t>(share * static_cast<double>(columns) * 8);
  const std::size_t whole = eighths / 8;
  std::string text = screen.utf8 ? "" : "[";
  for (std::size_t i = 0; i < columns; ++i) {
    if (!screen.utf8) {
      text += i < whole ? '#' : '.';
    } else if (i < whole) {
      text += "█";
    } else {
      text += i == whole ? parts.at(eighths % 8) : parts.front();
    }
  }
  return screen.utf8 ? text : text + "]";
}

// "312,000": three figures, a comma at each thousand.
std::string rounded(double number) {
  const auto digits = static_cast<int>(std::log10(std::max(number, 1.0)));
  const double step = std::pow(10, std::max(digits - 2, 0));
  return count_text(std::llround(number / step) * static_cast<std::int64_t>(step));
}

std::string rate_text(const Progress& progress, milliseconds elapsed) {
  if (elapsed < kTelling || progress.rows == 0) return {};
  const auto seconds = std::chrono::duration<double>(elapsed).count();
  return rounded(static_cast<double>(progress.rows) / seconds) + " rows/s";
}

std::string left_text(std::optional<double> share, milliseconds elapsed) {
  if (elapsed < kTelling || !share || *share <= 0) return {};
  const double left =
      std::chrono::duration<double>(elapsed).count() * (1 - *share) / *share;
  constexpr double minute = 60;
  constexpr double hour = 60 * minute;
  if (left < 1.5 * minute) return fmt::format("{:.0f} s left", std::ceil(left));
  if (left < 1.5 * hour) return fmt::format("{:.0f} min left", std::ceil(left / minute));
  return fmt::format("{:.0f} h left", std::ceil(left / hour));
}

// Whole characters, no more columns than that.
std::string cut(const std::string& text, std::size_t columns) {
  std::size_t bytes = 0;
  while (bytes < text.size()) {
    const auto next = first_character(std::string_view(text).substr(bytes));
    const std::size_t length = next ? next->length : 1;
    if (display_width(std::string_view(text).substr(0, bytes + length)) > columns) break;
    bytes += length;
  }
  return text.substr(0, bytes);
}

std::string joined(const std::vector<std::string>& parts) {
  std::string line;
  for (const std::string& part : parts) {
    if (part.empty()) continue;
    if (!line.empty()) line += kGap;
    line += part;
  }
  return line;
}

}  // namespace

std::string progress_line(const Progress& progress, milliseconds elapsed,
                          const Screen& screen) {
  const std::size_t width = std::max<std::size_t>(screen.width, 2) - 1;
  const std::optional<double> share = share_done(progress);
  enum : std::size_t { kDoing, kBar, kPercent, kRate, kLeft };
  std::vector<std::string> parts{printable(progress.doing, screen), "",
                                 share ? fmt::format("{:2.0f} %", *share * 100) : "",
                                 rate_text(progress, elapsed), left_text(share, elapsed)};
  if (share) {
    const std::size_t ends = screen.utf8 ? 0 : 2;
    const std::size_t used = display_width(joined(parts)) + kGap.size() + ends;
    const std::size_t room = width > used ? width - used : 0;
    if (room >= kShortestBar) {
      parts[kBar] = bar(*share, std::min(room, kLongestBar), screen);
    }
  }
  for (const std::size_t part : {kRate, kLeft}) {
    if (display_width(joined(parts)) > width) parts[part].clear();
  }
  const std::size_t over = display_width(joined(parts));
  if (over > width) {
    const std::size_t has = display_width(parts[kDoing]);
    parts[kDoing] = cut(parts[kDoing], has > over - width ? has - (over - width) : 0);
  }
  return joined(parts);
}

}  // namespace rimeward
