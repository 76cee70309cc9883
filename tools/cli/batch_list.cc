#include "tools/cli/batch_list.h"

#include <algorithm>
#include <chrono>
#include <cstdlib>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "daemon/base/text.h"
#include "daemon/store/stays.h"
#include "tools/cli/batches.h"
#include "tools/cli/date_words.h"
#include "tools/cli/json_text.h"
#include "tools/cli/table.h"
#include "tools/cli/warmth_answer.h"
#include "tools/cli/warmth_words.h"
#include "tools/cli/words.h"

namespace rimeward {
namespace {

using Json = nlohmann::ordered_json;
using std::chrono::sys_days;

constexpr std::size_t kWide = 116;  // columns

struct Line {
  KnownBatch batch;
  const Crop* crop = nullptr;  // null: the crop table has it no longer
  std::optional<Celsius> keep_above{};
  std::optional<BatchWarmth> warmth{};
  std::int64_t days = 0;  // since it was sown, until now or until it was finished
};

std::vector<Line> lines_of(const Context& context, bool all) {
  std::vector<KnownBatch> batches = known_batches(context.store);
  std::erase_if(batches,
                [all](const KnownBatch& batch) { return batch.row.finished && !all; });
  Instant from = context.now;
  for (const KnownBatch& batch : batches)
    from = std::min(from, batch.stays.front().since);
  const AirHours air(context, places_of(context, batches), from);
  const sys_days today{context.zone.local_date(context.now)};
  std::vector<Line> lines;
  for (KnownBatch& batch : batches) {
    Line line{.batch = std::move(batch)};
    const BatchRow& row = line.batch.row;
    line.days = (row.finished.value_or(today) - row.sown).count();
    line.crop = context.garden.crops.find(row.crop);
    if (line.crop != nullptr) {
      line.keep_above = keep_above(*line.crop, hardening_of(*line.crop, line.batch.stays,
                                                            context.garden, context.now));
      line.warmth = warmth_of(context, air, line.batch, *line.crop);
    }
    lines.push_back(std::move(line));
  }
  return lines;
}

// What the other columns do not say.
std::string state_text(const Context& context, const Line& line) {
  const sys_days today{context.zone.local_date(context.now)};
  std::string text = line.warmth ? progress_text(*line.warmth, context)
                                 : "a crop that the crop table no longer has";
  if (line.batch.row.finished) {
    text += fmt::format("; finished {}", short_date(*line.batch.row.finished, today));
  }
  if (line.batch.is_pending) text += "; not yet taken by rimewardd";
  return text;
}

// "24 chillies in the glasshouse, next the north frame: 132 of 450 ...".
std::string whole_text(const Context& context, const Line& line) {
  const BatchRow& row = line.batch.row;
  std::string text =
      fmt::format("{} in {}", what_grows(row, line.crop),
                  in_sentence(place_name(context.garden, line.batch.place())));
  if (!row.next_place.empty()) {
    text += ", next " + in_sentence(place_name(context.garden, row.next_place));
  }
  return fmt::format("{}: {}", text, state_text(context, line));
}

std::string text_of_lines(const Context& context, const std::vector<Line>& lines) {
  using enum Column::Align;
  const TemperatureUnit unit = context.garden.units;
  const sys_days today{context.zone.local_date(context.now)};
  const bool wide = context.around.screen.width >= kWide;
  std::vector<Column> columns{{.heading = "batch"},
                              {.heading = "sown"},
                              {.heading = "days", .align = kRight},
                              {.heading = "keep above", .align = kRight}};
  if (wide) {
    for (const char* heading : {"crop", "place", "next"})
      columns.push_back({.heading = heading});
  }
  columns.push_back({.heading = wide ? "warmth" : "what", .wraps = true});
  Table table(columns);
  for (const Line& line : lines) {
    const BatchRow& row = line.batch.row;
    std::vector<Cell> cells{
        {row.id},
        {short_date(row.sown, today)},
        {fmt::format("{}", line.days)},
        {line.keep_above
             ? fmt::format("{} {}", number(*line.keep_above, unit), degree_sign(unit))
             : std::string("-")}};
    if (wide) {
      cells.push_back({what_grows(row, line.crop)});
      cells.push_back({std::string(place_name(context.garden, line.batch.place()))});
      cells.push_back({row.next_place.empty()
                           ? "-"
                           : std::string(place_name(context.garden, row.next_place))});
    }
    cells.push_back({wide ? state_text(context, line) : whole_text(context, line)});
    table.add_row(std::move(cells));
  }
  return table.text(context.around.screen);
}

Json json_of_line(const Context& context, const Line& line) {
  const BatchRow& row = line.batch.row;
  const StageWarmth* next = line.warmth ? next_stage(*line.warmth) : nullptr;
  Json json{{"batch", row.id},
            {"crop", row.crop},
            {"place", line.batch.place()},
            {"since", json_of(std::optional(line.batch.stays.back().since))},
            {"sown", date_text(row.sown)},
            {"days", line.days}};
  json["count"] = row.count == 0 ? Json() : Json(row.count);
  json["next_place"] = row.next_place.empty() ? Json() : Json(row.next_place);
  json["keep_above_celsius"] = json_of(line.keep_above);
  json["next_stage"] = next != nullptr ? Json(next->stage->name) : Json();
  json["finished"] = row.finished ? Json(date_text(*row.finished)) : Json();
  json["taken"] = !line.batch.is_pending;
  json["in_words"] = state_text(context, line);
  return json;
}

std::string json_of_lines(const Context& context, const std::vector<Line>& lines) {
  Json json = json_heading(context);
  json["batches"] = Json::array();
  for (const Line& line : lines)
    json["batches"].push_back(json_of_line(context, line));
  return json_text(json);
}

std::string csv_of_lines(const std::vector<Line>& lines) {
  std::string text =
      "batch,crop,place,sown,days,count,next_place,keep_above,next_stage,finished,"
      "taken\n";
  for (const Line& line : lines) {
    const BatchRow& row = line.batch.row;
    const StageWarmth* next = line.warmth ? next_stage(*line.warmth) : nullptr;
    text += fmt::format(
        "{},{},{},{},{},{},{},{},{},{},{}\n", row.id, row.crop, line.batch.place(),
        date_text(row.sown), line.days,
        row.count == 0 ? std::string() : fmt::format("{}", row.count), row.next_place,
        line.keep_above ? fmt::format("{:.3f}", line.keep_above->degrees) : "",
        next != nullptr ? next->stage->name : "",
        row.finished ? date_text(*row.finished) : "", line.batch.is_pending ? 0 : 1);
  }
  return text;
}

}  // namespace

Reply batch_list(const Context& context, bool all) {
  const std::vector<Line> lines = lines_of(context, all);
  switch (context.around.format) {
    case Format::kJson:
      return said(json_of_lines(context, lines));
    case Format::kCsv:
      return said(csv_of_lines(lines));
    case Format::kText:
      break;
  }
  if (!lines.empty()) return said(text_of_lines(context, lines));
  return said(paragraphs(all ? "No batch was ever written down. `rimeward batch add CROP "
                               "--place PLACE` does."
                             : "There is no batch that is not finished. `rimeward batch "
                               "add CROP --place PLACE` writes one down.",
                         0, context.around.screen));
}

}  // namespace rimeward
