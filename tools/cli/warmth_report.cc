#include "tools/cli/warmth_report.h"

#include <cstddef>
#include <string>
#include <utility>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "daemon/base/text.h"
#include "sensors/escape.h"
#include "tools/cli/date_words.h"
#include "tools/cli/json_text.h"
#include "tools/cli/table.h"
#include "tools/cli/warmth_words.h"
#include "tools/cli/words.h"

namespace rimeward {
namespace {

using Json = nlohmann::ordered_json;
using std::chrono::sys_days;

sys_days today_of(const Context& context) {
  return sys_days{context.zone.local_date(context.now)};
}

std::string heading_of(const Context& context) {
  return paragraphs(garden_heading(context.garden, context.zone, context.now), 0,
                    context.around.screen) +
         "\n";
}

// "12 of 336 hours", or nothing where all are known.
std::string missing_text(const WarmthSum& sum) {
  const int missing = sum.hours - sum.hours_known;
  if (missing == 0) return "";
  return fmt::format("{} of {} hours", missing, sum.hours);
}

// One hour missing in so many is worth a line; every outage of a season is not.
constexpr int kWorthTelling = 20;

bool lacks_many(const WarmthSum& sum) {
  return (sum.hours - sum.hours_known) * kWorthTelling > sum.hours;
}

// Lines for the foot of a table: what the sums leave out.
std::string foot_of(const Context& context, const BatchReport& report) {
  const std::string& id = report.batch.row.id;
  std::string text;
  if (report.crop == nullptr) {
    text = fmt::format("{}: the crop table no longer has \"{}\".\n", id,
                       escaped(report.batch.row.crop));
  }
  if (lacks_many(report.warmth.since_sown)) {
    text += fmt::format(
        "{}: {} since it was sown have no reading and count for nothing; it may be "
        "further on.\n",
        id, missing_text(report.warmth.since_sown));
  }
  if (report.batch.is_pending) {
    text += fmt::format("{}: not yet taken by rimewardd.\n", id);
  }
  return paragraphs(text, 0, context.around.screen);
}

// --- text

std::vector<Column> columns_of(const Context& context, std::string first,
                               std::string second) {
  using enum Column::Align;
  return {{.heading = std::move(first)},
          {.heading = std::move(second)},
          {.heading = sum_unit(context.garden.units), .align = kRight},
          {.heading = "a day", .align = kRight},
          {.heading = "due", .wraps = true}};
}

// Of one stage, after the columns that say which.
std::vector<Cell> cells_of(const Context& context, const StageWarmth& stage,
                           const std::optional<Due>& due) {
  const TemperatureUnit unit = context.garden.units;
  std::string when;
  if (stage.reached) {
    when = reached_text(stage, context);
  } else if (!stage.has_begun) {
    when = fmt::format("counts from {} on", stage.stage->after);
  } else {
    when = due ? due_text(*due, today_of(context)) : "-";
  }
  return {{stage_sum_text(stage, unit)},
          {due ? pace_text(due->pace, unit) : std::string("-")},
          {std::move(when)}};
}

// The next stage, or in which way there is none.
std::vector<Cell> row_of(const Context& context, const BatchReport& report) {
  const BatchWarmth& warmth = report.warmth;
  if (report.crop == nullptr) return {{"-"}, {"-"}, {"-"}, {"-"}};
  if (const StageWarmth* next = next_stage(warmth)) {
    const auto index = static_cast<std::size_t>(next - warmth.stages.data());
    std::vector<Cell> cells = cells_of(context, *next, report.due[index]);
    cells.insert(cells.begin(), Cell{next->stage->name});
    return cells;
  }
  const TemperatureUnit unit = context.garden.units;
  if (warmth.stages.empty()) {
    return {{"-"},
            {sum_text(warmth.since_sown.known(), unit)},
            {"-"},
            {fmt::format("no sum is known for {}; above {} {}", report.crop->name,
                         number(warmth.limits.base, unit), degree_sign(unit))}};
  }
  const StageWarmth& last = warmth.stages.back();
  return {{"-"},
          {stage_sum_text(last, unit)},
          {"-"},
          {fmt::format("{} {}", last.stage->name, reached_text(last, context))}};
}

std::string text_of_all(const Context& context, std::span<const BatchReport> reports) {
  Table table(columns_of(context, "batch", "next stage"));
  std::string feet;
  for (const BatchReport& report : reports) {
    std::vector<Cell> cells = row_of(context, report);
    cells.insert(cells.begin(), Cell{report.batch.row.id});
    table.add_row(std::move(cells));
    feet += foot_of(context, report);
  }
  if (!feet.empty()) feet.insert(0, "\n");
  return heading_of(context) + table.text(context.around.screen) + feet;
}

// "chillies: 24 chillies, sown 29 Mar, in the glasshouse".
std::string lead_of(const Context& context, const BatchReport& report) {
  const BatchRow& row = report.batch.row;
  std::string text = fmt::format("{}: {}, sown {}", row.id, what_grows(row, report.crop),
                                 short_date(row.sown, today_of(context)));
  text +=
      row.finished
          ? fmt::format(", finished {}", short_date(*row.finished, today_of(context)))
          : fmt::format(", in {}",
                        in_sentence(place_name(context.garden, report.batch.place())));
  return paragraphs(text, 0, context.around.screen);
}

std::string text_of_one(const Context& context, const BatchReport& report) {
  const TemperatureUnit unit = context.garden.units;
  const auto base_text = [&](Celsius base) {
    return fmt::format("{} {}", number(base, unit), degree_sign(unit));
  };
  std::string text = lead_of(context, report);
  if (report.crop != nullptr && report.warmth.stages.empty()) {
    text += paragraphs(
        fmt::format("{} {} above {} since it was sown; no sum is known for what comes "
                    "next.\n",
                    sum_text(report.warmth.since_sown.known(), unit), sum_unit(unit),
                    base_text(report.warmth.limits.base)),
        0, context.around.screen);
  } else if (report.crop != nullptr) {
    std::vector<Column> columns = columns_of(context, "stage", "above");
    columns[1].align = Column::Align::kRight;
    Table table(std::move(columns));
    for (std::size_t i = 0; i < report.warmth.stages.size(); ++i) {
      const StageWarmth& stage = report.warmth.stages[i];
      std::vector<Cell> cells = cells_of(context, stage, report.due[i]);
      cells.insert(cells.begin(), {{stage.stage->name}, {base_text(stage.stage->base)}});
      table.add_row(std::move(cells));
    }
    text += "\n" + table.text(context.around.screen);
  }
  const std::string foot = foot_of(context, report);
  return text + (foot.empty() ? "" : "\n" + foot);
}

std::string text_of_places(const Context& context, const PlaceQuestion& question,
                           std::span<const PlaceReport> reports) {
  using enum Column::Align;
  const TemperatureUnit unit = context.garden.units;
  std::string lead = fmt::format("{} above {} {} since {}", sum_unit(unit),
                                 number(question.limits.base, unit), degree_sign(unit),
                                 short_date(question.since, today_of(context)));
  if (question.target) {
    lead +=
        fmt::format(", and when {:.0f} will be met", shown_sum(*question.target, unit));
  }
  Table table({{.heading = "place"},
               {.heading = sum_unit(unit), .align = kRight},
               {.heading = "a day", .align = kRight},
               {.heading = "without reading", .align = kRight},
               {.heading = "due", .wraps = true}});
  for (const PlaceReport& report : reports) {
    std::string when;
    if (question.target) {
      when = report.is_reached ? "reached" : due_text(report.due, today_of(context));
    }
    table.add_row({{report.place->name},
                   {sum_text(report.sum.known(), unit)},
                   {pace_text(report.due.pace, unit)},
                   {missing_text(report.sum)},
                   {std::move(when)}});
  }
  return paragraphs(lead, 0, context.around.screen) + "\n" +
         table.text(context.around.screen);
}

// --- JSON, in degrees Celsius whatever the garden shows

Json json_of_sum(const std::optional<DegreeDays>& sum) {
  return json_of(sum ? std::optional(Kelvins{sum->degree_days}) : std::nullopt);
}

Json json_of_span(const std::optional<DateSpan>& span) {
  if (!span) return nullptr;
  return {{"earliest", date_text(span->earliest)},
          {"latest", span->latest ? Json(date_text(*span->latest)) : Json()}};
}

Json json_of_due(const Due& due) {
  return {{"span", json_of_span(due.span())},
          {"by_pace", json_of_span(due.by_pace)},
          {"by_past_years", json_of_span(due.by_past_years.span)},
          {"past_years", due.by_past_years.years}};
}

Json json_of_pace(const Due& due) {
  return json_of_sum(due.pace ? std::optional(due.pace->a_day) : std::nullopt);
}

Json json_of_stage(const StageWarmth& stage, const std::optional<Due>& due) {
  return {{"stage", stage.stage->name},
          {"base_celsius", json_of(std::optional(stage.stage->base))},
          {"upper_celsius", json_of(stage.stage->upper)},
          {"celsius_days", json_of_sum(stage.so_far)},
          {"celsius_days_needed", stage.stage->heat_sum},
          {"celsius_days_a_day", due ? json_of_pace(*due) : Json()},
          {"reached", json_of(stage.reached)},
          {"due", due ? json_of_due(*due) : Json()}};
}

Json json_of_batch(const BatchReport& report) {
  const BatchRow& row = report.batch.row;
  const WarmthSum& sum = report.warmth.since_sown;
  Json json{{"batch", row.id},
            {"crop", row.crop},
            {"place", report.batch.place()},
            {"sown", date_text(row.sown)},
            {"base_celsius", nullptr},
            {"celsius_days", nullptr},
            {"hours", sum.hours},
            {"hours_missing", sum.hours - sum.hours_known},
            {"stages", Json::array()}};
  if (report.crop == nullptr) return json;
  json["base_celsius"] = json_of(std::optional(report.warmth.limits.base));
  json["celsius_days"] = json_of_sum(sum.known());
  for (std::size_t i = 0; i < report.warmth.stages.size(); ++i) {
    json["stages"].push_back(json_of_stage(report.warmth.stages[i], report.due[i]));
  }
  return json;
}

std::string json_of_batches(const Context& context,
                            std::span<const BatchReport> reports) {
  Json json = json_heading(context);
  json["batches"] = Json::array();
  for (const BatchReport& report : reports)
    json["batches"].push_back(json_of_batch(report));
  return json_text(json);
}

std::string json_of_places(const Context& context, const PlaceQuestion& question,
                           std::span<const PlaceReport> reports) {
  Json json = json_heading(context);
  json["since"] = date_text(question.since);
  json["base_celsius"] = json_of(std::optional(question.limits.base));
  json["celsius_days_needed"] = json_of_sum(question.target);
  json["places"] = Json::array();
  for (const PlaceReport& report : reports) {
    const WarmthSum& sum = report.sum;
    const bool is_open = question.target && !report.is_reached;
    json["places"].push_back({{"place", report.place->id},
                              {"celsius_days", json_of_sum(sum.known())},
                              {"celsius_days_a_day", json_of_pace(report.due)},
                              {"hours", sum.hours},
                              {"hours_missing", sum.hours - sum.hours_known},
                              {"reached", report.is_reached},
                              {"due", is_open ? json_of_due(report.due) : Json()}});
  }
  return json_text(json);
}

// --- CSV, in degrees Celsius too

constexpr const char* kSpanHeads =
    "by_pace_earliest,by_pace_latest,by_past_years_earliest,by_past_years_latest,"
    "past_years";

std::string csv_of_span(const std::optional<DateSpan>& span) {
  if (!span) return ",";
  return fmt::format("{},{}", date_text(span->earliest),
                     span->latest ? date_text(*span->latest) : std::string());
}

std::string csv_of_sum(const std::optional<DegreeDays>& sum) {
  return sum ? fmt::format("{:.3f}", sum->degree_days) : std::string();
}

std::string csv_of_pace(const Due& due) {
  return csv_of_sum(due.pace ? std::optional(due.pace->a_day) : std::nullopt);
}

std::string csv_of_due(const Due& due) {
  return fmt::format("{},{},{}", csv_of_span(due.by_pace),
                     csv_of_span(due.by_past_years.span), due.by_past_years.years);
}

std::string csv_of_batches(const Context& context, std::span<const BatchReport> reports) {
  std::string text = fmt::format(
      "batch,stage,base,celsius_days,celsius_days_needed,a_day,reached,{}\n", kSpanHeads);
  for (const BatchReport& report : reports) {
    for (std::size_t i = 0; i < report.warmth.stages.size(); ++i) {
      const StageWarmth& stage = report.warmth.stages[i];
      const std::optional<Due>& due = report.due[i];
      text += fmt::format(
          "{},{},{:.3f},{},{},{},{},{}\n", report.batch.row.id, stage.stage->name,
          stage.stage->base.degrees, csv_of_sum(stage.so_far), stage.stage->heat_sum,
          due ? csv_of_pace(*due) : "",
          stage.reached ? date_text(context.zone.local_date(*stage.reached)) : "",
          due ? csv_of_due(*due) : ",,,,");
    }
  }
  return text;
}

std::string csv_of_places(const PlaceQuestion& question,
                          std::span<const PlaceReport> reports) {
  std::string text =
      fmt::format("place,celsius_days,a_day,hours,hours_missing,{}\n", kSpanHeads);
  for (const PlaceReport& report : reports) {
    const WarmthSum& sum = report.sum;
    const bool is_open = question.target && !report.is_reached;
    text += fmt::format("{},{},{},{},{},{}\n", report.place->id, csv_of_sum(sum.known()),
                        csv_of_pace(report.due), sum.hours, sum.hours - sum.hours_known,
                        is_open ? csv_of_due(report.due) : ",,,,");
  }
  return text;
}

std::string nothing_text(const Context& context) {
  return paragraphs(
      "There is no batch that is not finished. `rimeward batch add CROP --place PLACE` "
      "writes one down; `rimeward warmth --base 10` tells the warmth of the places.",
      0, context.around.screen);
}

}  // namespace

Reply all_batches_report(const Context& context, std::span<const BatchReport> reports) {
  switch (context.around.format) {
    case Format::kJson:
      return said(json_of_batches(context, reports));
    case Format::kCsv:
      return said(csv_of_batches(context, reports));
    case Format::kText:
      break;
  }
  return said(reports.empty() ? nothing_text(context) : text_of_all(context, reports));
}

Reply one_batch_report(const Context& context, const BatchReport& report) {
  if (context.around.format == Format::kText) return said(text_of_one(context, report));
  return all_batches_report(context, {&report, 1});
}

Reply places_report(const Context& context, const PlaceQuestion& question,
                    std::span<const PlaceReport> reports) {
  switch (context.around.format) {
    case Format::kJson:
      return said(json_of_places(context, question, reports));
    case Format::kCsv:
      return said(csv_of_places(question, reports));
    case Format::kText:
      break;
  }
  return said(text_of_places(context, question, reports));
}

}  // namespace rimeward
