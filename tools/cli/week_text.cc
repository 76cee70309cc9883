#include "tools/cli/week_text.h"

#include <algorithm>
#include <limits>
#include <span>
#include <utility>

#include <fmt/format.h>

#include "daemon/climate/coverage.h"
#include "tools/cli/date_words.h"
#include "tools/cli/table.h"
#include "tools/cli/words.h"

namespace rimeward {
namespace {

using std::chrono::days;
using std::chrono::sys_days;
using std::chrono::year_month_day;
using Extreme = std::optional<HighOrLow>;

constexpr std::size_t kWide = 76;  // columns

// How an answer is laid out on a screen.
struct Layout {
  bool has_dates = false;    // in a column of their own, else on a line above the places
  bool has_columns = false;  // for past years, else a line each beneath
};

// The rows with the coldest low and the warmest high of the span; the first of equals.
struct Records {
  const WeekRow* coldest = nullptr;
  const WeekRow* warmest = nullptr;
};

Records records_of(const WeekAnswer& answer) {
  Records records;
  if (answer.rows.size() == 1) return records;  // the coldest of one is no news
  Celsius coldest{std::numeric_limits<double>::infinity()};
  Celsius warmest{-std::numeric_limits<double>::infinity()};
  for (const WeekRow& row : answer.rows) {
    if (row.known.low && row.known.low->air < coldest) {
      coldest = row.known.low->air;
      records.coldest = &row;
    }
    if (row.known.high && row.known.high->air > warmest) {
      warmest = row.known.high->air;
      records.warmest = &row;
    }
  }
  return records;
}

// --- the past years

int year_of(sys_days date) {
  return static_cast<int>(year_month_day{date}.year());
}

// "2025", or "a year before" where the days asked for are of two years.
std::string year_name(const WeekAnswer& answer, int years_before) {
  if (year_of(answer.dates.from) == year_of(answer.dates.to)) {
    return fmt::format("{}", year_of(answer.dates.to) - years_before);
  }
  return years_before == 1 ? "a year before"
                           : fmt::format("{} years before", years_before);
}

// "1.3 °C lower".
std::string difference_text(const Difference& difference, TemperatureUnit unit) {
  const std::string text = signed_number(difference.mean, unit);
  const std::string amount = text.substr(1);
  if (amount == "0.0") return "no different";
  return fmt::format("{} {} {}", amount, degree_sign(unit),
                     text.front() == '-' ? "lower" : "higher");
}

// "lows were 1.3 °C lower than on these days of 2025 (7 of 7 days known), highs ...".
std::string beside_text(const WeekAnswer& answer, const YearBeside& beside,
                        TemperatureUnit unit) {
  const bool one_year = year_of(answer.dates.from) == year_of(answer.dates.to);
  const std::string name = year_name(answer, beside.years_before);
  const std::string then = one_year ? "of " + name : name;
  std::string text;
  const auto add = [&](std::string_view what, const Difference& difference) {
    if (difference.days == 0) return;
    text += fmt::format("{}{} were {}{} ({} of {} days known)", text.empty() ? "" : ", ",
                        what, difference_text(difference, unit),
                        text.empty() ? " than on these days " + then : "",
                        difference.days, beside.days);
  };
  add("lows", beside.lows);
  add("highs", beside.highs);
  if (text.empty()) text = fmt::format("nothing to compare with {} is known", name);
  if (answer.places > 1) return fmt::format("{}: {}.", beside.place->name, text);
  text.front() = text.front() == 'l' ? 'L' : text.front() == 'h' ? 'H' : 'N';
  return text + ".";
}

// --- the table

// `what` is of the day that begins on `day`.
std::string coverage_text(std::string_view what, sys_days day, const Extreme& extreme,
                          const Context& context) {
  if (!extreme) return {};
  if (extreme->is_noted) return fmt::format("{} noted", what);
  const DayGrid grid(context.zone, context.garden.day_starts);
  if (grid.ends(day) > context.now) return fmt::format("{} so far", what);
  return extreme->hours < kWholeDay ? fmt::format("{} of {} h", what, extreme->hours)
                                    : std::string();
}

std::vector<std::string> coverage_notes(const Context& context, sys_days date,
                                        const DayAndNight& known) {
  return {coverage_text("low", date - days{1}, known.low, context),
          coverage_text("high", date, known.high, context)};
}

std::string joined(std::vector<std::string> notes) {
  std::erase(notes, std::string());
  return fmt::format("{}", fmt::join(notes, ", "));
}

std::string note_text(const Context& context, const WeekRow& row,
                      const Records& records) {
  std::vector<std::string> notes = coverage_notes(context, row.date, row.known);
  if (records.warmest == &row) notes.insert(notes.begin(), "warmest");
  if (records.coldest == &row) notes.insert(notes.begin(), "coldest");
  return joined(std::move(notes));
}

// The time of an extreme; with the weekday where it is not of the date itself.
std::string at_text(const Context& context, sys_days date, const Extreme& extreme) {
  if (!extreme || !extreme->at) return "-";
  std::string text = context.zone.time_text(*extreme->at);
  if (sys_days{context.zone.local_date(*extreme->at)} == date) return text;
  return text + " " + context.zone.weekday_text(*extreme->at);
}

std::string value_text(const Context& context, const Extreme& extreme) {
  return extreme ? number(extreme->air, context.garden.units) : std::string("-");
}

// Of a past year in a column of its own: "2.4?" where it is of a part of the day.
std::string past_value_text(const Context& context, const Extreme& extreme) {
  return value_text(context, extreme) + (extreme && !is_whole(extreme) ? "?" : "");
}

std::vector<Cell> cells_of(const Context& context, const WeekRow& row,
                           const Records& records, const Layout& layout) {
  const auto& [low, high] = row.known;
  std::vector<Cell> cells{
      {row.place->name},
      {value_text(context, low), records.coldest == &row ? Style::kCold : Style::kPlain},
      {at_text(context, row.date, low)},
      {value_text(context, high), records.warmest == &row ? Style::kWarm : Style::kPlain},
      {at_text(context, row.date, high)}};
  if (layout.has_columns) {
    for (const PastDay& past : row.past) {
      cells.push_back({past_value_text(context, past.known.low)});
      cells.push_back({past_value_text(context, past.known.high)});
    }
  }
  cells.push_back({note_text(context, row, records)});
  return cells;
}

// A past year on a line of its own.
std::vector<Cell> past_cells(const Context& context, const PastDay& past,
                             std::string name) {
  const sys_days date = past.date.value_or(sys_days{});
  return {{"  " + std::move(name)},
          {value_text(context, past.known.low)},
          {at_text(context, date, past.known.low)},
          {value_text(context, past.known.high)},
          {at_text(context, date, past.known.high)},
          {joined(coverage_notes(context, date, past.known))}};
}

std::vector<Column> columns_for(const Context& context, const WeekAnswer& answer,
                                const Layout& layout) {
  using enum Column::Align;
  const std::string_view degrees = degree_sign(context.garden.units);
  std::vector<Column> columns;
  if (layout.has_dates) columns.push_back({.heading = "date"});
  columns.push_back({.heading = "place"});
  columns.push_back({.heading = fmt::format("low {}", degrees), .align = kRight});
  columns.push_back({.heading = "at"});
  columns.push_back({.heading = fmt::format("high {}", degrees), .align = kRight});
  columns.push_back({.heading = "at"});
  for (int year = 1; layout.has_columns && year <= answer.years; ++year) {
    const std::string name = year_name(answer, year);
    columns.push_back({.heading = name + " low", .align = kRight});
    columns.push_back({.heading = name + " high", .align = kRight});
  }
  columns.push_back({.heading = "note", .wraps = true});
  return columns;
}

// "Sun 12 Apr", with the year where it is not this one.
std::string date_of_row(const Context& context, sys_days date) {
  const year_month_day shown{date};
  std::string text = day_text(shown);
  if (shown.year() != context.zone.local_date(context.now).year()) {
    text += fmt::format(" {}", static_cast<int>(shown.year()));
  }
  return text;
}

Table table_of(const Context& context, const WeekAnswer& answer, const Layout& layout) {
  const Records records = records_of(answer);
  const std::vector<Column> columns = columns_for(context, answer, layout);
  Table table(columns);
  const auto add = [&](std::vector<Cell> cells, const std::string& date) {
    if (layout.has_dates) cells.insert(cells.begin(), {date});
    table.add_row(std::move(cells));
  };
  for (std::size_t end = answer.rows.size(); end > 0; end -= answer.places) {
    const std::size_t begin = end - answer.places;
    const std::string date = date_of_row(context, answer.rows[begin].date);
    if (!layout.has_dates) {
      std::vector<Cell> line(columns.size());
      line.front() = {date, Style::kHeading};
      table.add_row(std::move(line));
    }
    for (std::size_t i = begin; i < end; ++i) {
      const WeekRow& row = answer.rows[i];
      add(cells_of(context, row, records, layout), i == begin ? date : "");
      if (layout.has_columns) continue;
      for (std::size_t year = 0; year < row.past.size(); ++year) {
        const int before = static_cast<int>(year) + 1;
        add(past_cells(context, row.past[year], year_name(answer, before)), "");
      }
    }
  }
  return table;
}

bool is_empty(const WeekRow& row) {
  return !row.known.low && !row.known.high &&
         std::ranges::all_of(row.past, [](const PastDay& past) {
           return !past.known.low && !past.known.high;
         });
}

// What the "?" of a past year's column is.
std::string parts_text(const WeekAnswer& answer) {
  const auto is_part = [](const Extreme& one) { return one && !is_whole(one); };
  for (const WeekRow& row : answer.rows) {
    const bool any = std::ranges::any_of(row.past, [&](const PastDay& past) {
      return is_part(past.known.low) || is_part(past.known.high);
    });
    if (any) return "?: only a part of that day was read.\n";
  }
  return {};
}

bool is_known(const YearBeside& beside) {
  return beside.lows.days > 0 || beside.highs.days > 0;
}

// A sentence for each place; one for all where nothing is known of any.
std::string year_text(const Context& context, const WeekAnswer& answer,
                      std::span<const YearBeside> of_year) {
  if (std::ranges::none_of(of_year, is_known)) {
    return fmt::format("Nothing to compare with {} is known.\n",
                       year_name(answer, of_year.front().years_before));
  }
  std::string text;
  for (const YearBeside& beside : of_year)
    text += beside_text(answer, beside, context.garden.units) + "\n";
  return text;
}

// Under the table: what its marks mean, and how the past years compare.
std::string foot_text(const Context& context, const WeekAnswer& answer,
                      const Layout& layout) {
  if (answer.years == 0) return {};
  std::string text = layout.has_columns ? parts_text(answer) : std::string();
  const std::vector<YearBeside> all = years_beside(answer);
  for (std::size_t i = 0; i < all.size(); i += answer.places)
    text += year_text(context, answer, std::span(all).subspan(i, answer.places));
  text.pop_back();
  return "\n" + paragraphs(text, 0, context.around.screen);
}

}  // namespace

std::string week_text(const Context& context, const WeekAnswer& answer) {
  const Screen& screen = context.around.screen;
  const std::string heading =
      paragraphs(garden_heading(context.garden, context.zone, context.now), 0, screen);
  if (std::ranges::all_of(answer.rows, is_empty)) {
    const sys_days today{context.zone.local_date(context.now)};
    const DateSpan span{.earliest = answer.dates.from, .latest = answer.dates.to};
    return heading + "\n" +
           paragraphs(
               fmt::format("No high or low is known of {}.", span_text(span, today)), 0,
               screen);
  }
  Layout layout{.has_dates = screen.width >= kWide, .has_columns = answer.years > 0};
  Table table = table_of(context, answer, layout);
  if (layout.has_columns && table.least_width(screen) > screen.width) {
    layout.has_columns = false;
    table = table_of(context, answer, layout);
  }
  return heading + "\n" + table.text(screen) + foot_text(context, answer, layout);
}

}  // namespace rimeward
