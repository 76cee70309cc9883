#include "tools/cli/chart/chart_text.h"

#include <fmt/format.h>

#include "tools/cli/chart/chart_plot.h"
#include "tools/cli/chart/chart_rows.h"
#include "tools/cli/chart/chart_screen.h"
#include "tools/cli/chart/chart_words.h"

namespace rimeward {
namespace {

// What a curve is that is no line of single readings.
std::string_view step_words(ChartStep step, std::size_t places) {
  switch (step) {
    case ChartStep::kReadings:
      return "";
    case ChartStep::kHours:
      return places == 1 ? "The curve shows the lowest and the highest of each hour."
                         : "The curves show the lowest and the highest of each hour.";
    case ChartStep::kDays:
      return places == 1 ? "The lower curve is the days' lows, the upper one their highs."
                         : "Each place has two curves: the days' lows and their highs.";
  }
  std::abort();
}

std::string foot_words(const ChartAnswer& answer) {
  std::string text(step_words(answer.step, answer.curves.size()));
  if (answer.question.left_out > 0) {
    text += fmt::format("{}{} more places have readings: name those to see.",
                        text.empty() ? "" : " ", answer.question.left_out);
  }
  return text;
}

// In two lines where one is too narrow for what it is of and its span.
std::string title_text(const std::string& title, const Screen& screen) {
  std::string text = title;
  const std::size_t comma = text.rfind(", ");
  if (display_width(printable(text, screen)) > screen.width && comma != text.npos) {
    text[comma + 1] = '\n';
  }
  return paragraphs(text, 0, screen);
}

void append(std::string& text, const std::vector<std::string>& lines) {
  for (const std::string& line : lines)
    text += line + "\n";
}

}  // namespace

std::string chart_text(const ChartAnswer& answer, const Zone& zone,
                       const Screen& screen) {
  const ScreenLayout layout = layout_of(answer, zone, screen);
  std::string text = title_text(answer.chart.title, screen) + "\n";
  const std::string unit = printable(answer.chart.unit, screen);
  text += std::string(layout.left - 1 - display_width(unit), ' ') + unit + "\n";
  append(text, plot_lines(layout));
  append(text, axis_lines(layout));
  append(text, night_lines(layout));
  append(text, cover_lines(layout));
  append(text, notice_lines(layout));
  text += "\n" + extremes_text(answer, zone, layout.letters, screen);
  const std::string notices = notices_text(answer, zone, screen);
  if (!notices.empty()) text += "\n" + notices;
  const std::string foot = foot_words(answer);
  if (!foot.empty()) text += "\n" + paragraphs(foot, 0, screen);
  return text;
}

}  // namespace rimeward
