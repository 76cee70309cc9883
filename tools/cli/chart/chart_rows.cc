#include "tools/cli/chart/chart_rows.h"

#include <algorithm>
#include <iterator>
#include <string_view>

#include <fmt/format.h>

#include "tools/cli/chart/chart_panel.h"
#include "tools/cli/chart/chart_plot.h"

namespace rimeward {
namespace {

constexpr std::size_t kNoticeRows = 3;

std::string labelled(const ScreenLayout& layout, std::string_view label,
                     const std::string& line) {
  std::string text = fmt::format("{:>{}}  {}", label, layout.left - 1, line);
  text.erase(text.find_last_not_of(' ') + 1);
  return text;
}

// Writes it where it has a blank on both sides.
bool write_apart(ChartPanel& panel, std::size_t column, std::string_view text) {
  if (column + text.size() > panel.columns()) return false;
  const std::size_t begin = column == 0 ? 0 : column - 1;
  for (std::size_t i = begin; i < std::min(column + text.size() + 1, panel.columns());
       ++i) {
    if (!panel.is_free(i, 0)) return false;
  }
  panel.write(column, 0, text, Ink::kPlain);
  return true;
}

// "Sun 12 Apr" as "Sun 12", for dates that stand close.
std::string shortened(const std::string& label) {
  const std::size_t end = label.rfind(' ');
  return end == std::string::npos ? label : label.substr(0, end);
}

// How dates are written under the axis: every so many, in full or shortened.
struct DateStyle {
  std::size_t every = 1;
  bool in_full = true;
};

std::string date_label(const std::string& label, const DateStyle& style) {
  return style.in_full ? label : shortened(label);
}

bool fits(const ScreenLayout& layout, const std::vector<Chart::Tick>& dates,
          const DateStyle& style) {
  std::size_t free_from = 0;
  for (std::size_t i = 0; i < dates.size(); i += style.every) {
    const std::size_t column = layout.column_of(dates[i].at);
    if (column < free_from) return false;
    free_from = column + date_label(dates[i].label, style).size() + 1;
  }
  return true;
}

// All of them, if need be shortened; else every second, third and so on, in full: far
// apart a day alone would not tell which month it is of.
DateStyle style_for(const ScreenLayout& layout, const std::vector<Chart::Tick>& dates) {
  const DateStyle shortest{.every = 1, .in_full = false};
  if (!fits(layout, dates, {}) && fits(layout, dates, shortest)) return shortest;
  DateStyle style;
  while (!fits(layout, dates, style))
    ++style.every;
  return style;
}

std::string hour_line(const ScreenLayout& layout) {
  ChartPanel panel(layout.columns, 1);
  const std::vector<Chart::Tick>& ticks = layout.chart().ticks;
  if (std::ranges::all_of(ticks, &Chart::Tick::is_day)) return {};
  for (const Chart::Tick& tick : ticks) {
    const std::size_t column = layout.column_of(tick.at);
    write_apart(panel, column - std::min<std::size_t>(column, 1),
                tick.is_day ? "00" : tick.label);
  }
  return panel.line(0, layout.screen);
}

std::string date_line(const ScreenLayout& layout) {
  std::vector<Chart::Tick> dates;
  std::ranges::copy_if(layout.chart().ticks, std::back_inserter(dates),
                       &Chart::Tick::is_day);
  const DateStyle style = style_for(layout, dates);
  ChartPanel panel(layout.columns, 1);
  for (std::size_t i = 0; i < dates.size(); i += style.every) {
    write_apart(panel, layout.column_of(dates[i].at), date_label(dates[i].label, style));
  }
  return panel.line(0, layout.screen);
}

// A bar from one moment to another with a text in its middle where that has room.
void put_bar(ChartPanel& panel, const ScreenLayout& layout, const Chart::Span& span,
             const std::string& text, Ink ink) {
  const std::size_t first = layout.column_of(span.from);
  const std::size_t last = layout.column_of(span.to);
  const std::size_t room = last - first + 1;
  if (text.size() <= room) panel.write(first + (room - text.size()) / 2, 0, text, ink);
  for (std::size_t column = first; column <= last; ++column)
    panel.fill(column, 0, layout.screen.utf8 ? "═" : "=", ink);
}

std::string night_words(const ScreenLayout& layout, const Chart::Span& night) {
  const Chart::Span& span = layout.chart().span;
  const std::string from = layout.zone.time_text(night.from);
  const std::string to = layout.zone.time_text(night.to);
  if (night.from == span.from) return night.to == span.to ? "" : "to " + to;
  return night.to == span.to ? "from " + from : from + "-" + to;
}

}  // namespace

std::vector<std::string> axis_lines(const ScreenLayout& layout) {
  const bool utf8 = layout.screen.utf8;
  ChartPanel panel(layout.columns, 1);
  for (const Chart::Tick& tick : layout.chart().ticks) {
    const std::string_view sign = tick.is_day ? "┼" : "┴";
    panel.put(layout.column_of(tick.at), 0, utf8 ? sign : "+", Ink::kPlain);
  }
  for (std::size_t column = 0; column < panel.columns(); ++column)
    panel.fill(column, 0, utf8 ? "─" : "-", Ink::kPlain);
  std::vector<std::string> lines{fmt::format("{:>{}} {}{}", "", layout.left - 1,
                                             utf8 ? "└" : "+",
                                             panel.line(0, layout.screen))};
  for (const std::string& line : {hour_line(layout), date_line(layout)}) {
    if (!line.empty()) lines.push_back(labelled(layout, "", line));
  }
  return lines;
}

std::vector<std::string> night_lines(const ScreenLayout& layout) {
  if (layout.chart().nights.empty()) return {};
  ChartPanel panel(layout.columns, 1);
  for (const Chart::Span& night : layout.chart().nights)
    put_bar(panel, layout, night, night_words(layout, night), Ink::kFaint);
  return {labelled(layout, "night", panel.line(0, layout.screen))};
}

std::vector<std::string> cover_lines(const ScreenLayout& layout) {
  std::vector<std::string> lines;
  for (std::size_t i = 0; i < layout.letters.size(); ++i) {
    const std::vector<Chart::Cover>& covers = layout.chart().lines[i].covers;
    if (covers.empty()) continue;
    ChartPanel panel(layout.columns, 1);
    for (const Chart::Cover& cover : covers) {
      const std::string layers = fmt::format("{}", cover.layers);
      put_bar(panel, layout, cover.span, layers, ink_of(layout, i));
    }
    const std::string& letter = layout.letters[i];
    lines.push_back(labelled(layout, letter.empty() ? "cover" : "cover " + letter,
                             panel.line(0, layout.screen)));
  }
  return lines;
}

// The number of each under its time; where two stand close, one below the other.
std::vector<std::string> notice_lines(const ScreenLayout& layout) {
  std::vector<ChartPanel> panels;
  for (const NoticeRow& notice : layout.answer.notices) {
    const std::string number = fmt::format("{}", notice.id);
    const std::size_t column =
        std::min(layout.column_of(notice.raised_at), layout.columns - number.size());
    for (std::size_t row = 0; row < kNoticeRows; ++row) {
      if (row == panels.size()) panels.emplace_back(layout.columns, 1);
      if (write_apart(panels[row], column, number)) break;
    }
  }
  std::vector<std::string> lines;
  for (const ChartPanel& panel : panels) {
    lines.push_back(
        labelled(layout, lines.empty() ? "notice" : "", panel.line(0, layout.screen)));
  }
  return lines;
}

}  // namespace rimeward
