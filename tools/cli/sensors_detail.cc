// `rimeward sensors SENSOR`: all that is known of one sensor.

#include <algorithm>
#include <map>
#include <string>
#include <vector>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "daemon/base/text.h"
#include "daemon/notice/sensor_words.h"
#include "sensors/escape.h"
#include "tools/cli/json_text.h"
#include "tools/cli/quantity.h"
#include "tools/cli/sensors_views.h"
#include "tools/cli/table.h"
#include "tools/cli/words.h"

namespace rimeward {
namespace {

constexpr std::size_t kDoubtfulShown = 8;
constexpr std::size_t kFactsShown = 40;

// The newest few of all its channels, newest first.
std::vector<DoubtfulRow> last_doubtful(const Context& context,
                                       const SensorHealth& health) {
  std::vector<DoubtfulRow> rows;
  for (const SeriesRow& row : health.series) {
    const auto few = context.store.latest_doubtful(row.id, kDoubtfulShown);
    rows.insert(rows.end(), few.begin(), few.end());
  }
  std::ranges::stable_sort(rows, std::ranges::greater{}, &DoubtfulRow::time);
  rows.resize(std::min(rows.size(), kDoubtfulShown));
  return rows;
}

Channel channel_of(const SensorHealth& health, const DoubtfulRow& row) {
  return std::ranges::find(health.series, row.series, &SeriesRow::id)->channel;
}

std::string facts_line(const Context& context, const SensorHealth& health) {
  const Sensor& sensor = *health.sensor;
  std::string line = fmt::format(
      "{}, in {}; topic {}; format {}", sensor.id,
      in_sentence(place_name(context.garden, sensor.place)), escaped(sensor.topic, 200),
      health.unclear.empty() ? format_text(health)
                             : "not clear: " + escaped(health.unclear, 80));
  if (sensor.type != nullptr) line += fmt::format("; type {}", sensor.type->name);
  line += health.heard_at
              ? fmt::format("; heard {}, {}",
                            when_text(*health.heard_at, context.now, context.zone),
                            age_text(health.heard_at, context.now))
              : "; never heard";
  if (health.is_silent && health.heard_at) line += ", silent";
  if (health.usual_gap) line += ", usually every " + gap_text(*health.usual_gap);
  if (health.battery) {
    line += "; battery " + value_text(health.battery->channel, health.battery->value,
                                      context.garden.units);
  }
  return line + ".";
}

std::string tallies_text(const Context& context, const SensorHealth& health) {
  if (health.tallies.empty()) return "Nothing of it was ever doubted.\n";
  Table table({{.heading = "channel"},
               {.heading = "counted", .wraps = true},
               {.heading = "times", .align = Column::Align::kRight},
               {.heading = "first"},
               {.heading = "last"}});
  for (const TallyRow& tally : health.tallies) {
    const auto when = [&](Instant at) {
      return context.zone.date_text(at) + " " + context.zone.time_text(at);
    };
    table.add_row({{tally.channel ? words_for(*tally.channel) : "whole messages"},
                   {std::string(traits(tally.doubt).words)},
                   {fmt::format("{}", tally.count)},
                   {when(tally.first_at)},
                   {when(tally.last_at)}});
  }
  return table.text(context.around.screen);
}

std::string doubtful_text(const Context& context, const SensorHealth& health) {
  const std::vector<DoubtfulRow> rows = last_doubtful(context, health);
  if (rows.empty()) return "";
  Table table(
      {{.heading = "when"}, {.heading = "said"}, {.heading = "why", .wraps = true}});
  for (const DoubtfulRow& row : rows) {
    const Channel channel = channel_of(health, row);
    table.add_row({{when_text(row.time, context.now, context.zone)},
                   {words_for(channel) + " " +
                    value_text(channel, row.value, context.garden.units)},
                   {row.reason.empty() ? std::string(traits(row.doubt).words)
                                       : escaped(row.reason, 200)}});
  }
  return "\nThe last that were not believed:\n" + table.text(context.around.screen);
}

std::string corrections_text(const Context& context, const SensorHealth& health) {
  if (health.corrections.empty()) return "";
  Table table({{.heading = ""}, {.heading = "", .wraps = true}});
  for (const CorrectionRow& row : health.corrections) {
    table.add_row({{fmt::format("{:>3}", row.id)}, {correction_sentence(context, row)}});
  }
  return "\nCorrections:\n" + table.text(context.around.screen);
}

std::string facts_text(const Context& context, const SensorHealth& health) {
  Table table({{.heading = ""}, {.heading = "", .wraps = true}});
  std::size_t shown = 0;
  for (const FactRow& fact : health.facts) {
    if (fact.value.empty()) continue;
    if (++shown > kFactsShown) continue;
    table.add_row({{"  " + escaped(fact.name, 60)}, {escaped(fact.value, 80)}});
  }
  if (shown == 0) return "";
  std::string text = "\nKnown from its messages:\n" + table.text(context.around.screen);
  if (shown > kFactsShown) text += fmt::format("  and {} more\n", shown - kFactsShown);
  return text;
}

std::string text_of(const Context& context, const SensorHealth& health) {
  const Screen& screen = context.around.screen;
  std::string text =
      paragraphs(garden_heading(context.garden, context.zone, context.now), 0, screen);
  text += "\n" + paragraphs(facts_line(context, health), 0, screen);
  text += "\n" + tallies_text(context, health);
  text += doubtful_text(context, health);
  text += corrections_text(context, health);
  text += facts_text(context, health);
  for (const std::string& sentence : advice_for(context, health)) {
    text += "\n" + paragraphs(sentence, 0, screen);
  }
  return text;
}

std::string json_text_of(const Context& context, const SensorHealth& health) {
  nlohmann::ordered_json json = json_heading(context);
  json.update(json_of(health, context));
  json["last_doubtful"] = nlohmann::ordered_json::array();
  for (const DoubtfulRow& row : last_doubtful(context, health)) {
    const ChannelTraits& channel = traits(channel_of(health, row));
    json["last_doubtful"].push_back({{"at", json_of(std::optional(row.time))},
                                     {"channel", channel.name},
                                     {"value", row.value},
                                     {"unit", channel.unit},
                                     {"reason", traits(row.doubt).name},
                                     {"why", row.reason}});
  }
  json["facts"] = nlohmann::ordered_json::object();
  for (const FactRow& fact : health.facts)
    json["facts"][fact.name] = fact.value;
  return json_text(json);
}

}  // namespace

std::string correction_sentence(const Context& context, const CorrectionRow& row) {
  const TemperatureUnit unit = context.garden.units;
  std::string text =
      fmt::format("{} {}{} since {}", words_for(row.channel), correction_text(row, unit),
                  uncertainty_text(row, unit), context.zone.date_text(row.since));
  if (row.until) text += " until " + context.zone.date_text(*row.until);
  return text + fmt::format(" ({})", escaped(row.method, 80));
}

Reply sensor_in_detail(const Context& context, const SensorHealth& health) {
  return said(context.around.format == Format::kJson ? json_text_of(context, health)
                                                     : text_of(context, health));
}

}  // namespace rimeward
