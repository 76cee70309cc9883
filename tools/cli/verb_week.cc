// `rimeward week`: the highs and lows of some days, place by place.
//
// Days are climatological: each runs from [garden] day_starts (09:00) to the same hour of
// the next date, as a maximum-minimum thermometer is read. A night's low belongs to the
// morning it ends, so the LOW shown on a date is that of the day which began on the date
// before (09:00 the day before to 09:00), and the HIGH is that of the day which begins on
// the date (09:00 to 09:00 the day after).

#include <algorithm>
#include <charconv>
#include <chrono>
#include <cstdlib>
#include <limits>
#include <optional>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "daemon/climate/coverage.h"
#include "daemon/store/place_hours.h"
#include "sensors/escape.h"
#include "sensors/iso_time.h"
#include "tools/cli/json_text.h"
#include "tools/cli/places_asked.h"
#include "tools/cli/table.h"
#include "tools/cli/verb.h"
#include "tools/cli/words.h"

namespace rimeward {
namespace {

using std::chrono::days;
using std::chrono::sys_days;

constexpr std::string_view kDaysShown = "7";
constexpr int kMostDays = 40'000;  // more than a century: a slip of the keyboard
constexpr std::size_t kWide = 76;  // columns

struct Span {
  sys_days from;
  sys_days to;  // included
};

struct Extreme {
  Celsius air;
  Instant at;
  int hours = 0;  // of its day, that hold readings
};

struct WeekRow {
  sys_days date;
  const Place* place = nullptr;
  std::optional<Extreme> low;
  std::optional<Extreme> high;
};

struct WeekAnswer {
  Span span;
  std::size_t places = 0;     // how many rows a date has
  std::vector<WeekRow> rows;  // every date of the span, oldest first, and every place
};

Result<int> read_days(std::string_view text) {
  int count = 0;
  const auto read = std::from_chars(text.data(), text.data() + text.size(), count);
  if (read.ec != std::errc{} || read.ptr != text.data() + text.size() || count < 1 ||
      count > kMostDays) {
    return refuse(
        fmt::format("--days: expected 1 to {}, got \"{}\"", kMostDays, escaped(text)));
  }
  return count;
}

Result<std::optional<sys_days>> read_date(const Arguments& arguments,
                                          std::string_view name) {
  const auto text = arguments.text(name);
  if (!text) return std::nullopt;
  const auto date = date_from_text(*text);
  if (!date) {
    return refuse(fmt::format("{}: expected a date such as 2026-04-12, got \"{}\"", name,
                              escaped(*text)));
  }
  return date;
}

Result<Span> span_of(const Arguments& arguments, sys_days today) {
  const auto from = read_date(arguments, "--from");
  if (!from) return tl::unexpected(from.error());
  const auto to = read_date(arguments, "--to");
  if (!to) return tl::unexpected(to.error());
  const auto count = read_days(arguments.text("--days").value_or(kDaysShown));
  if (!count) return tl::unexpected(count.error());
  const bool counted = arguments.given("--days");
  const std::optional<sys_days> first = *from;
  const std::optional<sys_days> last = *to;
  if (counted && first && last) {
    return refuse("--days with both --from and --to: leave one of the three out");
  }
  const days others{*count - 1};
  Span span{.from = last.value_or(today) - others, .to = last.value_or(today)};
  if (first) {
    span.from = *first;
    if (counted) span.to = *first + others;
  }
  if (span.from > span.to) {
    return refuse(fmt::format("--from {} is after --to {}", date_text(span.from),
                              date_text(span.to)));
  }
  if (span.to - span.from >= days{kMostDays}) {
    return refuse(fmt::format("--from {} --to {}: more than {} days",
                              date_text(span.from), date_text(span.to), kMostDays));
  }
  return span;
}

const DayRow* find_day(std::span<const DayRow> all, sys_days date, SeriesId series) {
  const auto key = std::pair(date, series);
  const auto found = std::ranges::lower_bound(
      all, key, {}, [](const DayRow& row) { return std::pair(row.date, row.series); });
  return found != all.end() && found->date == date && found->series == series ? &*found
                                                                              : nullptr;
}

WeekRow row_of(std::span<const DayRow> all, sys_days date, const Place& place,
               std::optional<SeriesId> series) {
  WeekRow row{.date = date, .place = &place, .low = {}, .high = {}};
  if (!series) return row;
  if (const DayRow* const day = find_day(all, date - days{1}, *series)) {
    const Extremes& extremes = day->extremes;
    row.low = {Celsius{from_milli(extremes.low)}, extremes.low_at, extremes.hours};
  }
  if (const DayRow* const day = find_day(all, date, *series)) {
    const Extremes& extremes = day->extremes;
    row.high = {Celsius{from_milli(extremes.high)}, extremes.high_at, extremes.hours};
  }
  return row;
}

WeekAnswer answer_week(const Context& context, Span span,
                       const std::vector<const Place*>& places) {
  const std::vector<SeriesRow> all = context.store.all_series();
  std::vector<std::pair<const Place*, std::optional<SeriesId>>> columns;
  columns.reserve(places.size());
  for (const Place* place : places) {
    columns.emplace_back(
        place, series_of(all, context.garden, *place, Channel::kAirTemperature));
  }
  const std::vector<DayRow> stored = context.store.days(
      span.from - days{1}, span.to, DayGrid(context.zone, context.garden.day_starts));
  WeekAnswer answer{.span = span, .places = places.size(), .rows = {}};
  for (sys_days date = span.from; date <= span.to; date += days{1}) {
    for (const auto& [place, series] : columns) {
      answer.rows.push_back(row_of(stored, date, *place, series));
    }
  }
  return answer;
}

// The rows with the coldest low and the warmest high of the span; the first of equals.
struct Records {
  const WeekRow* coldest = nullptr;
  const WeekRow* warmest = nullptr;
};

Records records_of(const WeekAnswer& answer) {
  Records records;
  Celsius coldest{std::numeric_limits<double>::infinity()};
  Celsius warmest{-std::numeric_limits<double>::infinity()};
  for (const WeekRow& row : answer.rows) {
    if (row.low && row.low->air < coldest) {
      coldest = row.low->air;
      records.coldest = &row;
    }
    if (row.high && row.high->air > warmest) {
      warmest = row.high->air;
      records.warmest = &row;
    }
  }
  return records;
}

// `what` is of the day that begins on `day`.
std::string coverage_text(std::string_view what, sys_days day,
                          const std::optional<Extreme>& extreme, const Context& context) {
  if (!extreme) return {};
  const DayGrid grid(context.zone, context.garden.day_starts);
  if (grid.ends(day) > context.now) return fmt::format("{} so far", what);
  return extreme->hours < kWholeDay ? fmt::format("{} of {} h", what, extreme->hours)
                                    : std::string();
}

std::string note_text(const Context& context, const WeekRow& row,
                      const Records& records) {
  std::vector<std::string> notes;
  if (records.coldest == &row) notes.emplace_back("coldest");
  if (records.warmest == &row) notes.emplace_back("warmest");
  notes.push_back(coverage_text("low", row.date - days{1}, row.low, context));
  notes.push_back(coverage_text("high", row.date, row.high, context));
  std::erase(notes, std::string());
  return fmt::format("{}", fmt::join(notes, ", "));
}

// The time of an extreme; with the weekday where it is not of the date itself.
std::string at_text(const Context& context, const WeekRow& row,
                    const std::optional<Extreme>& extreme) {
  if (!extreme) return "-";
  std::string text = context.zone.time_text(extreme->at);
  if (sys_days{context.zone.local_date(extreme->at)} == row.date) return text;
  return text + " " + context.zone.weekday_text(extreme->at);
}

std::vector<Cell> cells_of(const Context& context, const WeekRow& row,
                           const Records& records) {
  const auto value = [&context](const std::optional<Extreme>& extreme) {
    return extreme ? number(extreme->air, context.garden.units) : std::string("-");
  };
  return {{row.place->name},
          {value(row.low), records.coldest == &row ? Style::kCold : Style::kPlain},
          {at_text(context, row, row.low)},
          {value(row.high), records.warmest == &row ? Style::kWarm : Style::kPlain},
          {at_text(context, row, row.high)},
          {note_text(context, row, records)}};
}

std::vector<Column> columns_for(TemperatureUnit unit) {
  using enum Column::Align;
  return {{.heading = "place"},
          {.heading = fmt::format("low {}", degree_sign(unit)), .align = kRight},
          {.heading = "at"},
          {.heading = fmt::format("high {}", degree_sign(unit)), .align = kRight},
          {.heading = "at"},
          {.heading = "note", .wraps = true}};
}

std::string text_of_answer(const Context& context, const WeekAnswer& answer) {
  const Screen& screen = context.around.screen;
  const Records records = records_of(answer);
  // The date has a column of its own where that fits, else a line above its places.
  const bool wide = screen.width >= kWide;
  std::vector<Column> columns = columns_for(context.garden.units);
  if (wide) columns.insert(columns.begin(), {.heading = "date"});
  Table table(columns);
  for (std::size_t end = answer.rows.size(); end > 0; end -= answer.places) {
    const std::size_t begin = end - answer.places;
    const std::string date =
        day_text(std::chrono::year_month_day{answer.rows[begin].date});
    if (!wide) {
      std::vector<Cell> line(columns.size());
      line.front() = {date, Style::kHeading};
      table.add_row(std::move(line));
    }
    for (std::size_t i = begin; i < end; ++i) {
      std::vector<Cell> cells = cells_of(context, answer.rows[i], records);
      if (wide) cells.insert(cells.begin(), {i == begin ? date : ""});
      table.add_row(std::move(cells));
    }
  }
  return paragraphs(garden_heading(context.garden, context.zone, context.now), 0,
                    screen) +
         "\n" + table.text(screen);
}

std::string csv_of_answer(const WeekAnswer& answer) {
  std::string text = "date,place,low,low_at,high,high_at,low_hours,high_hours\n";
  const auto pair = [](const std::optional<Extreme>& extreme) {
    return extreme
               ? fmt::format("{:.3f},{}", extreme->air.degrees, format_utc(extreme->at))
               : std::string(",");
  };
  const auto hours = [](const std::optional<Extreme>& extreme) {
    return extreme ? fmt::format("{}", extreme->hours) : std::string();
  };
  for (const WeekRow& row : answer.rows) {
    text += fmt::format("{},{},{},{},{},{}\n", date_text(row.date), row.place->id,
                        pair(row.low), pair(row.high), hours(row.low), hours(row.high));
  }
  return text;
}

nlohmann::ordered_json json_of_extreme(const Context& context,
                                       const std::optional<Extreme>& extreme) {
  if (!extreme) return nullptr;
  return {{"temperature_celsius", json_of(std::optional(extreme->air))},
          {"at", json_of(std::optional(extreme->at))},
          {"at_local", json_local(extreme->at, context.zone)},
          {"hours_covered", extreme->hours}};
}

std::string json_of_answer(const Context& context, const WeekAnswer& answer) {
  nlohmann::ordered_json json = json_heading(context);
  json["from"] = date_text(answer.span.from);
  json["to"] = date_text(answer.span.to);
  json["days"] = nlohmann::ordered_json::array();
  for (const WeekRow& row : answer.rows) {
    json["days"].push_back({{"date", date_text(row.date)},
                            {"place", row.place->id},
                            {"low", json_of_extreme(context, row.low)},
                            {"high", json_of_extreme(context, row.high)}});
  }
  return json_text(json);
}

constexpr Parameter kParameters[]{
    {"--days", "N", "how many days (default 7)"},
    {"--from", "YYYY-MM-DD", "the first date"},
    {"--to", "YYYY-MM-DD", "the last date (default today)"},
    {"--place", "P", "only this place"},
};

Reply run(const Context& context, const Arguments& arguments) {
  const sys_days today{context.zone.local_date(context.now)};
  const auto span = span_of(arguments, today);
  if (!span) return misused(span.error().message);
  const auto places = places_asked(context, arguments);
  if (!places) return misused(places.error().message);
  const WeekAnswer answer = answer_week(context, *span, *places);
  switch (context.around.format) {
    case Format::kText:
      return said(text_of_answer(context, answer));
    case Format::kJson:
      return said(json_of_answer(context, answer));
    case Format::kCsv:
      return said(csv_of_answer(answer));
  }
  std::abort();
}

}  // namespace

VerbDetails describe_week() {
  return {
      .teaching =
          "Highs and lows, newest first, with the times at which they were read.\n\n"
          "A night's low belongs to the morning it ends: the low shown on a date is the "
          "lowest from the hour at which days start ([garden] day_starts, 09:00) on the "
          "date before until that hour on the date. The high is the highest from that "
          "hour on the date until the same hour on the next. `low of 14 h` says that "
          "only 14 hours of that day hold readings, `so far` that it is not over yet; a "
          "`-` is no reading.\n\n"
          "  rimeward week --days 2 --place north-frame\n"
          "  date        place        low °C  at     high °C  at     note\n"
          "  Mon 13 Apr  North frame    -1.2  06:20     18.4  14:35  coldest\n"
          "  Sun 12 Apr  North frame     2.1  05:55     19.0  14:10  warmest\n\n"
          "  rimeward week --from 2026-04-01 --to 2026-04-30 --csv > april.csv",
      .parameters = kParameters,
      .tabular = true,
      .answer = run};
}

}  // namespace rimeward
