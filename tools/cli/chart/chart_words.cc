#include "tools/cli/chart/chart_words.h"

#include <algorithm>
#include <chrono>

#include <fmt/format.h>

#include "tools/cli/chart/chart_screen.h"
#include "tools/cli/table.h"
#include "tools/cli/words.h"

namespace rimeward {
namespace {

using std::chrono::days;

constexpr days kDatesTold{300};  // longer spans need the year
constexpr std::size_t kGapsTold = 3;
constexpr std::size_t kNoticesListed = 12;

// The time of day alone where the date has just been said.
std::string end_words(const Chart::Span& gap, const Chart::Span& span, const Zone& zone) {
  return zone.local_date(gap.from) == zone.local_date(gap.to)
             ? zone.time_text(gap.to)
             : chart_time(gap.to, span, zone);
}

std::string one_gap(const Chart::Span& gap, const Chart::Span& span, const Zone& zone) {
  if (gap.from == span.from) return "before " + chart_time(gap.to, span, zone);
  if (gap.to == span.to) return "since " + chart_time(gap.from, span, zone);
  return fmt::format("from {} to {}", chart_time(gap.from, span, zone),
                     end_words(gap, span, zone));
}

std::string capitalised(std::string text) {
  if (!text.empty() && text.front() >= 'a' && text.front() <= 'z') {
    text.front() = static_cast<char>(text.front() - 'a' + 'A');
  }
  return text;
}

std::string sentences_of(const ChartAnswer& answer, const Zone& zone) {
  const Chart& chart = answer.chart;
  const ChartCurve& curve = answer.curves.front();
  const auto quantity = [&](double value) {
    return chart_number(value, chart.unit) + " " + chart.unit;
  };
  // Over a year and more a date without its year would not tell which one.
  const bool with_year = chart.span.to - chart.span.from > kDatesTold;
  const auto at = [&](Instant moment) {
    return with_year ? zone.date_text(moment) + " " + zone.time_text(moment)
                     : when_text(moment, chart.span.to, zone);
  };
  std::string text =
      fmt::format("Low {} at {}, high {} at {}.", quantity(curve.low->value),
                  at(curve.low->at), quantity(curve.high->value), at(curve.high->at));
  if (const auto keep = chart.lines.front().keep_above) {
    text += fmt::format(" Keep above {}.", quantity(*keep));
  }
  const std::string gaps = gap_words(curve, chart.span, zone);
  if (!gaps.empty()) text += " " + capitalised(gaps) + ".";
  return text;
}

constexpr std::size_t kWide = 76;  // columns

std::vector<Cell> cells_of(const ChartAnswer& answer, std::size_t number,
                           const Zone& zone, const std::string& letter) {
  const Chart& chart = answer.chart;
  const Chart::Line& line = chart.lines[number];
  const ChartCurve& curve = answer.curves[number];
  const auto value = [&](const std::optional<ChartExtreme>& extreme) {
    return extreme ? chart_number(extreme->value, chart.unit) : std::string("-");
  };
  const auto at = [&](const std::optional<ChartExtreme>& extreme) {
    return extreme ? chart_time(extreme->at, chart.span, zone) : std::string("-");
  };
  return {{letter},
          {line.place},
          {value(curve.low)},
          {at(curve.low)},
          {value(curve.high)},
          {at(curve.high)},
          {line.keep_above ? chart_number(*line.keep_above, chart.unit) : std::string()},
          {curve.low ? gap_words(curve, chart.span, zone) : std::string("no readings")}};
}

}  // namespace

std::string chart_time(Instant at, const Chart::Span& span, const Zone& zone) {
  const auto date = zone.local_date(at);
  const auto length = span.to - span.from;
  if (length > kDatesTold) return zone.date_text(at);
  const std::string time = zone.time_text(at);
  if (length > days{6}) {
    const std::string day = day_text(date);
    return day.substr(day.find(' ') + 1) + " " + time;
  }
  const bool one_date =
      zone.local_date(span.from) ==
      zone.local_date(std::max(span.from, span.to - std::chrono::seconds{1}));
  return one_date ? time : zone.weekday_text(at) + " " + time;
}

std::string gap_words(const ChartCurve& curve, const Chart::Span& span,
                      const Zone& zone) {
  std::vector<Chart::Span> told = curve.gaps;
  const auto length = [](const Chart::Span& gap) { return gap.to - gap.from; };
  std::ranges::stable_sort(told, std::ranges::greater{}, length);
  told.resize(std::min(told.size(), kGapsTold));
  std::ranges::sort(told, {}, &Chart::Span::from);
  std::string text;
  for (const Chart::Span& gap : told) {
    text += text.empty() ? "no readings " : ", ";
    text += one_gap(gap, span, zone);
  }
  const std::size_t more = curve.gaps.size() - told.size();
  if (more > 0)
    text += more == 1 ? " and once more" : fmt::format(" and {} times more", more);
  return text;
}

std::string extremes_text(const ChartAnswer& answer, const Zone& zone,
                          const std::vector<std::string>& letters, const Screen& screen) {
  if (letters.size() == 1) return paragraphs(sentences_of(answer, zone), 0, screen);
  using enum Column::Align;
  const std::string& unit = answer.chart.unit;
  std::vector<Column> columns{{.heading = ""},
                              {.heading = "place"},
                              {.heading = "low " + unit, .align = kRight},
                              {.heading = "at"},
                              {.heading = "high " + unit, .align = kRight},
                              {.heading = "at"},
                              {.heading = "keep above", .align = kRight},
                              {.heading = "note", .wraps = true}};
  // Where it is narrow the notes stand below; what is kept above stands in the plot.
  const bool wide = screen.width >= kWide;
  if (!wide) columns.resize(columns.size() - 2);
  Table table(columns);
  std::string notes;
  for (std::size_t i = 0; i < letters.size(); ++i) {
    std::vector<Cell> cells = cells_of(answer, i, zone, letters[i]);
    const std::string note = cells.back().text;
    cells.resize(columns.size());
    table.add_row(std::move(cells));
    if (!wide && !note.empty()) {
      notes += paragraphs(answer.chart.lines[i].place + ": " + note + ".", 0, screen);
    }
  }
  return table.text(screen) + notes;
}

std::string notices_text(const ChartAnswer& answer, const Zone& zone,
                         const Screen& screen) {
  if (answer.notices.empty()) return {};
  Table table({{.heading = "", .align = Column::Align::kRight},
               {.heading = ""},
               {.heading = "", .wraps = true}});
  const std::size_t all = answer.notices.size();
  const std::size_t listed = std::min(all, kNoticesListed);
  for (std::size_t i = all - listed; i < all; ++i) {
    const NoticeRow& notice = answer.notices[i];
    const std::string& text = answer.chart.marks[i].text;
    const std::size_t title = std::min(text.find(' '), text.size());
    const std::size_t words = text.find_first_not_of(' ', title);
    table.add_row({{fmt::format("{:>3}", notice.id)},
                   {chart_time(notice.raised_at, answer.chart.span, zone)},
                   {words == std::string::npos ? "" : text.substr(words)}});
  }
  std::string text = table.text(screen);
  if (listed < all) {
    text += paragraphs(
        fmt::format("{} earlier ones: `rimeward notices` lists them.", all - listed), 2,
        screen);
  }
  return text;
}

}  // namespace rimeward
