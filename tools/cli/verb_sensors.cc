// `rimeward sensors`: how each sensor is, what of it was not believed, and what else is
// heard.

#include <algorithm>
#include <map>
#include <string>
#include <string_view>
#include <vector>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "daemon/notice/sensor_words.h"
#include "sensors/escape.h"
#include "sensors/iso_time.h"
#include "tools/cli/json_text.h"
#include "tools/cli/sensors_views.h"
#include "tools/cli/table.h"
#include "tools/cli/words.h"

namespace rimeward {
namespace {

constexpr std::string_view kSensor = "SENSOR";
constexpr std::string_view kHeard = "--heard";
constexpr std::size_t kLongestCell = 200;

std::string battery_text(const Context& context, const SensorHealth& health) {
  if (!health.battery) return "";
  return value_text(health.battery->channel, health.battery->value, context.garden.units);
}

std::string note_text(const SensorHealth& health) {
  std::vector<std::string_view> notes;
  if (health.is_silent && health.heard_at) notes.push_back("silent");
  if (health.checked_until) notes.push_back("being checked");
  if (health.battery && health.battery->is_low) notes.push_back("battery low");
  if (health.unreadable_at && health.unclear.empty()) notes.push_back("not readable");
  return fmt::format("{}", fmt::join(notes, ", "));
}

// "out of range: 3; stuck while another place moved: 1", of all channels together.
std::string doubts_text(const SensorHealth& health) {
  std::map<Doubt, std::int64_t> counts;
  for (const TallyRow& tally : health.tallies) {
    if (is_trouble(tally.doubt)) counts[tally.doubt] += tally.count;
  }
  std::vector<std::string> texts;
  for (const auto& [doubt, count] : counts) {
    texts.push_back(fmt::format("{}: {}", traits(doubt).words, count));
  }
  return fmt::format("{}", fmt::join(texts, "; "));
}

std::optional<Instant> last_doubt(const SensorHealth& health) {
  std::optional<Instant> last;
  for (const TallyRow& tally : health.tallies) {
    if (!is_trouble(tally.doubt)) continue;
    last = std::max(last.value_or(tally.last_at), tally.last_at);
  }
  return last;
}

std::string table_text(const Context& context, const std::vector<SensorHealth>& all) {
  Table table({{.heading = "sensor"},
               {.heading = "place"},
               {.heading = "format"},
               {.heading = "heard"},
               {.heading = "every", .align = Column::Align::kRight},
               {.heading = "battery", .align = Column::Align::kRight},
               {.heading = "note", .wraps = true}});
  for (const SensorHealth& health : all) {
    const std::string note = note_text(health);
    table.add_row({{health.sensor->id},
                   {health.sensor->place},
                   {format_text(health)},
                   {age_text(health.heard_at, context.now)},
                   {health.usual_gap ? gap_text(*health.usual_gap) : "-"},
                   {battery_text(context, health)},
                   {note, note.empty() ? Style::kPlain : Style::kUrgent}});
  }
  return table.text(context.around.screen);
}

// A heading, then a line for each sensor that has something to say; empty when none has.
std::string block(const Context& context, std::string_view heading, Table table,
                  bool is_empty) {
  if (is_empty) return "";
  return fmt::format("\n{}\n{}", heading, table.text(context.around.screen));
}

std::string doubts_block(const Context& context, const std::vector<SensorHealth>& all) {
  Table table({{.heading = ""}, {.heading = "", .wraps = true}});
  bool is_empty = true;
  for (const SensorHealth& health : all) {
    const auto last = last_doubt(health);
    if (!last) continue;
    table.add_row({{"  " + health.sensor->id},
                   {fmt::format("{}; last {}", doubts_text(health),
                                when_text(*last, context.now, context.zone))}});
    is_empty = false;
  }
  return block(context, "Not believed so far:", std::move(table), is_empty);
}

std::string corrections_block(const Context& context,
                              const std::vector<SensorHealth>& all) {
  Table table({{.heading = ""}, {.heading = "", .wraps = true}});
  bool is_empty = true;
  for (const SensorHealth& health : all) {
    for (const CorrectionRow& row : health.corrections) {
      if (!is_in_force(row)) continue;
      table.add_row({{"  " + health.sensor->id}, {correction_sentence(context, row)}});
      is_empty = false;
    }
  }
  return block(context, "Corrected:", std::move(table), is_empty);
}

std::string text_of_answer(const Context& context, const std::vector<SensorHealth>& all) {
  const Screen& screen = context.around.screen;
  std::string text =
      paragraphs(garden_heading(context.garden, context.zone, context.now), 0, screen);
  if (all.empty()) {
    return text + paragraphs(
                      "\nThe settings have no sensor yet. `rimeward sensors "
                      "--heard` shows what could be one.",
                      0, screen);
  }
  text += "\n" + table_text(context, all);
  text += doubts_block(context, all);
  text += corrections_block(context, all);
  for (const SensorHealth& health : all) {
    for (const std::string& sentence : advice_for(context, health)) {
      text += "\n" + paragraphs(sentence, 0, screen);
    }
  }
  return text;
}

std::string json_of_answer(const Context& context, const std::vector<SensorHealth>& all) {
  nlohmann::ordered_json json = json_heading(context);
  json["sensors"] = nlohmann::ordered_json::array();
  for (const SensorHealth& health : all)
    json["sensors"].push_back(json_of(health, context));
  return json_text(json);
}

// RFC 4180; what a terminal would obey is escaped.
std::string csv_cell(std::string_view text) {
  std::string cell = escaped(text, kLongestCell);
  if (cell.find_first_of(",\"") == std::string::npos) return cell;
  std::string quoted = "\"";
  for (const char letter : cell) {
    quoted += letter;
    if (letter == '"') quoted += '"';
  }
  return quoted + '"';
}

std::string csv_row(const SensorHealth& health) {
  std::int64_t doubted = 0;
  for (const TallyRow& tally : health.tallies) {
    if (is_trouble(tally.doubt)) doubted += tally.count;
  }
  const auto last = last_doubt(health);
  const auto& battery = health.battery;
  return fmt::format("{},{},{},{},{},{},{},{},{},{},{},{}\n", health.sensor->id,
                     health.sensor->place, csv_cell(health.sensor->topic),
                     csv_cell(health.format), health.format_is_found ? "yes" : "no",
                     health.heard_at ? format_utc(*health.heard_at) : "",
                     health.usual_gap ? fmt::format("{}", health.usual_gap->count()) : "",
                     health.is_silent ? "yes" : "no",
                     battery ? fmt::format("{:g}", battery->value) : "",
                     battery ? traits(battery->channel).unit : "", doubted,
                     last ? format_utc(*last) : "");
}

std::string csv_of_answer(const std::vector<SensorHealth>& all) {
  std::string text =
      "sensor,place,topic,format,format_found,heard_at,usual_gap_s,silent,battery,"
      "battery_unit,doubted,last_doubted_at\n";
  for (const SensorHealth& health : all)
    text += csv_row(health);
  return text;
}

Reply one_sensor(const Context& context, std::string_view word) {
  const auto sensor = find_sensor(context.garden, word);
  if (!sensor) return misused(sensor.error().message);
  const std::vector<SensorHealth> all = health_of_sensors(context);
  const auto found = std::ranges::find(all, *sensor, &SensorHealth::sensor);
  if (context.around.format == Format::kCsv) return said(csv_of_answer({*found}));
  return sensor_in_detail(context, *found);
}

Reply run(const Context& context, const Arguments& arguments) {
  if (arguments.given(kHeard)) {
    if (arguments.given(kSensor) || context.around.format == Format::kCsv) {
      return misused("sensors: --heard goes with neither a sensor nor --csv");
    }
    return heard_topics(context);
  }
  if (const auto word = arguments.text(kSensor)) return one_sensor(context, *word);
  const std::vector<SensorHealth> all = health_of_sensors(context);
  switch (context.around.format) {
    case Format::kJson:
      return said(json_of_answer(context, all));
    case Format::kCsv:
      return said(csv_of_answer(all));
    case Format::kText:
      break;
  }
  return said(text_of_answer(context, all));
}

constexpr Parameter kParameters[]{
    {.name = kSensor,
     .value = "",
     .help = "one sensor in detail, by its id",
     .offers = Offers::kSensors},
    {kHeard, "", "topics heard that belong to no sensor, and how to adopt them"}};

}  // namespace

VerbDetails describe_sensors() {
  return {
      .teaching =
          "How each sensor is: when it was last heard and how often it usually is, its "
          "battery, what of it was not believed and why, what corrects it, and what to "
          "do about it. With a sensor's id, all of one sensor.\n\n"
          "A `format` that the settings do not say is found by looking at the messages; "
          "one that could be two things is not guessed at. Readings that were not "
          "believed are kept, and left out of everything that is computed.\n\n"
          "  rimeward sensors\n"
          "  sensor       place        format        heard       every  battery\n"
          "  north-probe  north-frame  json (found)  10 min ago  10 min     84 %\n\n"
          "With --heard: the topics that are heard and belong to no sensor, what they "
          "say, and the lines that make a sensor of each, ready to be pasted into the "
          "settings.\n\n"
          "  rimeward sensors --heard\n"
          "  garden/pea-bed/soil\n"
          "    soil temperature 9.4 °C, soil moisture 31 %\n"
          "  ...\n"
          "  [[sensor]]\n"
          "  id = \"pea-bed-soil\"\n"
          "  place = \"pea-bed\"\n"
          "  topic = \"garden/pea-bed/soil\"\n"
          "  format = \"json\"",
      .parameters = kParameters,
      .tabular = true,
      .answer = run};
}

}  // namespace rimeward
