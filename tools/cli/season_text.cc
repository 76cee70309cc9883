#include "tools/cli/season_text.h"

#include <algorithm>
#include <functional>
#include <utility>

#include <fmt/format.h>

#include "tools/cli/table.h"
#include "tools/cli/words.h"

namespace rimeward {
namespace {

using std::chrono::sys_days;

// Of a table: the longest label, and a season with the space before it.
constexpr std::size_t kLabels = 24;
constexpr std::size_t kSeasonColumn = 16;

// "12 Apr".
std::string short_date(sys_days date) {
  const std::string with_weekday = day_text(date);
  return with_weekday.substr(with_weekday.find(' ') + 1);
}

double shown(DegreeDays warmth, TemperatureUnit unit) {
  return unit == TemperatureUnit::kCelsius ? warmth.degree_days
                                           : in_fahrenheit(Kelvins{warmth.degree_days});
}

using Value = std::function<std::string(const PlaceSeason& row)>;

struct Line {
  std::string label;
  Value value;
};

std::string count_text(int count) {
  return fmt::format("{}", count);
}

// Nothing for 0, so that a line that is 0 in every season is left out.
std::string count_or_nothing(int count) {
  return count == 0 ? "" : count_text(count);
}

std::string frost_text(const std::optional<FrostDate>& frost, const HalfSeason& half) {
  if (frost) return short_date(frost->night) + (frost->is_sure ? "" : "?");
  if (half.known == 0) return "-";
  return half.unknown == 0 ? "none" : "none read";
}

std::string dated_text(const std::optional<DatedAir>& dated, TemperatureUnit unit) {
  if (!dated) return "-";
  return number(dated->air, unit) + ", " + short_date(dated->date);
}

using SumText = std::function<std::string(const SeasonSums& sums)>;

// What is summed over hours: nothing to say where none is known.
enum class SumOf { kNights, kHours };

// A sum of the whole season, and under it that by the same date as today where there is
// more than one season to compare.
void add_sum(std::vector<Line>& lines, std::string label, const std::string& by_today,
             SumOf of, const SumText& text) {
  const auto value = [of, text](const PlaceSeason& row, const SeasonSums& sums) {
    return of == SumOf::kNights || row.has_hours ? text(sums) : std::string("-");
  };
  lines.push_back({std::move(label),
                   [value](const PlaceSeason& row) { return value(row, row.sums); }});
  if (by_today.empty()) return;
  lines.push_back({"  " + by_today, [value](const PlaceSeason& row) {
                     return value(row, row.by_today.value_or(row.sums));
                   }});
}

void add_warmth(std::vector<Line>& lines, Celsius base, const std::string& by_today,
                TemperatureUnit unit, DegreeDays SeasonSums::*warmth) {
  const bool is_celsius = unit == TemperatureUnit::kCelsius;
  const double shown_base = is_celsius ? base.degrees : in_fahrenheit(base);
  add_sum(lines,
          fmt::format("degree days above {:.0f} {}", shown_base, degree_sign(unit)),
          by_today, SumOf::kHours, [unit, warmth](const SeasonSums& sums) {
            return fmt::format("{:.0f}", shown(sums.*warmth, unit));
          });
}

void add_frosts(std::vector<Line>& lines, const std::string& by_today,
                TemperatureUnit unit) {
  add_sum(lines, "frost nights", by_today, SumOf::kNights,
          [](const SeasonSums& sums) { return count_text(sums.frost_nights); });
  lines.push_back({"last frost of spring", [](const PlaceSeason& row) {
                     return frost_text(row.last_of_spring, row.spring);
                   }});
  lines.push_back({"first frost of autumn", [](const PlaceSeason& row) {
                     return frost_text(row.first_of_autumn, row.autumn);
                   }});
  lines.push_back(
      {fmt::format("coldest night {}", degree_sign(unit)),
       [unit](const PlaceSeason& row) { return dated_text(row.coldest, unit); }});
  lines.push_back(
      {fmt::format("warmest day {}", degree_sign(unit)),
       [unit](const PlaceSeason& row) { return dated_text(row.warmest, unit); }});
  add_sum(lines, "hours of frost", by_today, SumOf::kHours,
          [](const SeasonSums& sums) { return count_text(sums.frost_hours); });
}

void add_chill(std::vector<Line>& lines, bool is_southern) {
  lines.push_back({is_southern ? "chill hours, May to Aug" : "chill hours, Nov to Feb",
                   [](const PlaceSeason& row) {
                     return row.chill ? count_text(row.chill->chill_hours)
                                      : std::string("-");
                   }});
  lines.push_back({"  hours missing", [](const PlaceSeason& row) {
                     return count_or_nothing(row.chill ? row.chill->missing : 0);
                   }});
  lines.push_back(
      {is_southern ? "  since 1 May" : "  since 1 Nov", [](const PlaceSeason& row) {
         return row.coming_chill ? count_text(row.coming_chill->chill_hours)
                                 : std::string();
       }});
}

std::vector<Line> lines_of(const SeasonAnswer& answer, TemperatureUnit unit,
                           bool compares) {
  const std::string by_today = compares ? "by " + short_date(answer.today) : "";
  std::vector<Line> lines;
  add_frosts(lines, by_today, unit);
  add_chill(lines, answer.is_southern);
  add_warmth(lines, kHardyBase, by_today, unit, &SeasonSums::hardy);
  add_warmth(lines, kTenderBase, by_today, unit, &SeasonSums::tender);
  lines.push_back({"nights read in part", [](const PlaceSeason& row) {
                     return count_or_nothing(row.nights_in_part);
                   }});
  lines.push_back({"nights missing", [](const PlaceSeason& row) {
                     return count_or_nothing(row.nights_missing);
                   }});
  lines.push_back({"hours missing", [](const PlaceSeason& row) {
                     return count_or_nothing(row.hours_missing);
                   }});
  return lines;
}

std::vector<const PlaceSeason*> rows_of(const SeasonAnswer& answer, const Place& place) {
  std::vector<const PlaceSeason*> rows;
  for (const PlaceSeason& row : answer.rows) {
    if (row.place == &place) rows.push_back(&row);
  }
  return rows;
}

std::string table_text(const Context& context, const SeasonAnswer& answer,
                       const std::vector<const PlaceSeason*>& rows) {
  std::vector<Column> columns{{.heading = ""}};
  for (const PlaceSeason* const row : rows) {
    columns.push_back({.heading = season_name(row->year, answer.is_southern) +
                                  (row->is_under_way ? " so far" : ""),
                       .align = Column::Align::kRight});
  }
  Table table(columns);
  const bool compares = rows.front()->is_under_way && rows.size() > 1;
  for (const Line& line : lines_of(answer, context.garden.units, compares)) {
    std::vector<Cell> cells{{line.label}};
    for (const PlaceSeason* const row : rows)
      cells.push_back({line.value(*row)});
    const bool is_empty = std::all_of(cells.begin() + 1, cells.end(),
                                      [](const Cell& cell) { return cell.text.empty(); });
    if (!is_empty) table.add_row(std::move(cells));
  }
  return table.text(context.around.screen);
}

// What stands under a place's table.
std::string notes_text(const Context& context, const SeasonAnswer& answer,
                       const std::vector<const PlaceSeason*>& shown_rows,
                       const std::vector<const PlaceSeason*>& others) {
  const auto is_unsure = [](const PlaceSeason* row) {
    return (row->last_of_spring && !row->last_of_spring->is_sure) ||
           (row->first_of_autumn && !row->first_of_autumn->is_sure);
  };
  std::string text;
  if (std::ranges::any_of(shown_rows, is_unsure)) {
    text +=
        "?: nights near it are missing, or were read in part; one of them may have "
        "had a frost.\n";
  }
  const PlaceSeason& newest = *shown_rows.front();
  if (const auto risk = frost_risk(answer, *newest.place, newest.year)) {
    text +=
        fmt::format("One spring in ten had a frost after {}, by the {} springs here.\n",
                    short_date(risk->date), risk->springs);
  }
  if (!others.empty()) {
    std::vector<std::string> names;
    names.reserve(others.size());
    for (const PlaceSeason* const row : others)
      names.push_back(season_name(row->year, answer.is_southern));
    text += fmt::format("Before that: {}. See --year {}.\n", fmt::join(names, ", "),
                        static_cast<int>(others.front()->year));
  }
  if (text.empty()) return text;
  text.pop_back();
  return paragraphs(text, 0, context.around.screen);
}

}  // namespace

std::string season_name(std::chrono::year year, bool is_southern) {
  const int number = static_cast<int>(year);
  return is_southern ? fmt::format("{}/{:02}", number, (number + 1) % 100)
                     : fmt::format("{}", number);
}

std::string season_text(const Context& context, const SeasonAnswer& answer,
                        const std::vector<const Place*>& places,
                        std::optional<std::chrono::year> only) {
  const Screen& screen = context.around.screen;
  std::string text =
      paragraphs(garden_heading(context.garden, context.zone, context.now), 0, screen);
  if (answer.rows.empty()) {
    const std::string of = only ? fmt::format("of {} is stored", static_cast<int>(*only))
                                : std::string("is stored yet");
    return text + "\n" + paragraphs(fmt::format("No air temperature {}.", of), 0, screen);
  }
  const std::size_t room = screen.width > kLabels ? screen.width - kLabels : 0;
  const std::size_t most = std::max<std::size_t>(1, room / kSeasonColumn);
  for (const Place* const place : places) {
    std::vector<const PlaceSeason*> rows = rows_of(answer, *place);
    if (rows.empty()) continue;
    const auto split =
        rows.begin() + static_cast<std::ptrdiff_t>(std::min(most, rows.size()));
    const std::vector<const PlaceSeason*> others(split, rows.end());
    rows.erase(split, rows.end());
    text += "\n" + styled(paragraphs(place->name, 0, screen), Style::kHeading, screen) +
            table_text(context, answer, rows) + notes_text(context, answer, rows, others);
  }
  return text;
}

}  // namespace rimeward
