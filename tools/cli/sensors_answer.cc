#include "tools/cli/sensors_answer.h"

#include <algorithm>
#include <map>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "daemon/base/text.h"
#include "daemon/intake.h"
#include "daemon/rhythm.h"
#include "daemon/store/correction_json.h"
#include "daemon/store/marks.h"
#include "sensors/escape.h"
#include "tools/cli/json_text.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;
using Json = nlohmann::ordered_json;

constexpr auto kLately = 24h;

// What the store holds of all sensors at once.
struct Gathered {
  std::vector<SeriesRow> series;
  std::vector<TallyRow> tallies;
  std::vector<CorrectionRow> corrections;
  std::vector<FactRow> facts;
  std::vector<NoticeRow> open;
  std::map<SeriesId, int> believed;  // of the last day
  std::vector<DoubtfulRow> doubtful;
};

Gathered gather(const Context& context) {
  const Store& store = context.store;
  const Instant from = context.now - kLately;
  const Instant to = context.now + 1s;
  Gathered all{.series = store.all_series(),
               .tallies = store.tallies(),
               .corrections = store.corrections(),
               .facts = store.facts(),
               .open = store.open_notices(),
               .believed = {},
               .doubtful = store.doubtful(from, to)};
  store.each_reading(from, to,
                     [&all](const ReadingRow& row) { ++all.believed[row.series]; });
  return all;
}

template <class Row>
std::vector<Row> rows_of(const std::vector<Row>& all, std::string_view sensor) {
  std::vector<Row> rows;
  std::ranges::copy_if(all, std::back_inserter(rows),
                       [sensor](const Row& row) { return row.sensor == sensor; });
  return rows;
}

bool has_notice(const Gathered& all, std::string_view kind, std::string_view sensor) {
  return std::ranges::any_of(all.open, [&](const NoticeRow& notice) {
    return notice.kind == kind && notice.subject == sensor;
  });
}

void take_format(SensorHealth& health) {
  health.format = health.sensor->format;
  for (const FactRow& fact : health.facts) {
    if (fact.name == kFactUnclear) health.unclear = fact.value;
    if (fact.name != kFactFormat || !health.format.empty()) continue;
    health.format = fact.value;
    health.format_is_found = true;
  }
  // Once its owner has said, it is clear.
  if (!health.sensor->format.empty()) health.unclear.clear();
}

// A reading that was not believed was heard all the same, and so was what could not be
// read.
void take_times(const Context& context, SensorHealth& health) {
  const auto heard = [&health](Instant at) {
    health.heard_at = std::max(health.heard_at.value_or(at), at);
  };
  for (const SeriesRow& row : health.series) {
    if (const auto latest = context.store.latest(row.id)) heard(latest->time);
    for (const DoubtfulRow& doubtful : context.store.latest_doubtful(row.id, 1)) {
      heard(doubtful.time);
    }
  }
  health.usual_gap = usual_gap_of(context.store, health.series);
  for (const TallyRow& tally : health.tallies) {
    if (tally.doubt != Doubt::kUnreadable) continue;
    if (!health.heard_at || tally.last_at > *health.heard_at) {
      health.unreadable_at = tally.last_at;
      heard(tally.last_at);
    }
  }
}

void take_battery(const Context& context, SensorHealth& health) {
  for (const Channel channel : {Channel::kBatteryPercent, Channel::kBatteryVoltage}) {
    const auto row = std::ranges::find(health.series, channel, &SeriesRow::channel);
    if (row == health.series.end()) continue;
    const auto latest = context.store.latest(row->id);
    if (!latest) continue;
    health.battery = {channel, from_milli(latest->value), latest->time, false};
    return;
  }
}

void take_lately(const Gathered& all, SensorHealth& health) {
  std::map<Doubt, int> reasons;
  for (const SeriesRow& row : health.series) {
    const auto believed = all.believed.find(row.id);
    if (believed != all.believed.end()) health.lately.believed += believed->second;
    for (const DoubtfulRow& doubtful : all.doubtful) {
      if (doubtful.series != row.id || !is_trouble(doubtful.doubt)) continue;
      ++reasons[doubtful.doubt];
      ++health.lately.doubted;
    }
  }
  const auto most = std::ranges::max_element(
      reasons, {}, [](const auto& reason) { return reason.second; });
  if (most != reasons.end()) health.lately.mostly = most->first;
}

SensorHealth health_of(const Context& context, const Gathered& all,
                       const Sensor& sensor) {
  SensorHealth health{.sensor = &sensor};
  health.series = series_of(all.series, sensor);
  health.tallies = rows_of(all.tallies, sensor.id);
  health.corrections = rows_of(all.corrections, sensor.id);
  health.facts = rows_of(all.facts, sensor.id);
  take_format(health);
  take_times(context, health);
  take_battery(context, health);
  if (health.battery) health.battery->is_low = has_notice(all, "battery", sensor.id);
  take_lately(all, health);
  const bool is_late = sensor.silent_after && health.heard_at &&
                       context.now - *health.heard_at >= *sensor.silent_after;
  health.is_silent = is_late || has_notice(all, "silent", sensor.id);
  const auto until = context.store.mark(kMarkChecking + sensor.id);
  if (until && Instant{std::chrono::seconds{*until}} > context.now) {
    health.checked_until = Instant{std::chrono::seconds{*until}};
    health.is_silent = false;
  }
  return health;
}

Json json_of_battery(const SensorHealth& health) {
  if (!health.battery) return {};
  return {{"channel", traits(health.battery->channel).name},
          {"value", health.battery->value},
          {"unit", traits(health.battery->channel).unit},
          {"at", json_of(std::optional(health.battery->at))},
          {"low", health.battery->is_low}};
}

Json json_of_tallies(const SensorHealth& health) {
  Json list = Json::array();
  for (const TallyRow& tally : health.tallies) {
    list.push_back(
        {{"channel", tally.channel ? Json(traits(*tally.channel).name) : Json()},
         {"reason", traits(tally.doubt).name},
         {"count", tally.count},
         {"first_at", json_of(std::optional(tally.first_at))},
         {"last_at", json_of(std::optional(tally.last_at))}});
  }
  return list;
}

}  // namespace

std::vector<SensorHealth> health_of_sensors(const Context& context) {
  const Gathered all = gather(context);
  std::vector<SensorHealth> sensors;
  for (const Sensor& sensor : context.garden.sensors) {
    sensors.push_back(health_of(context, all, sensor));
  }
  return sensors;
}

std::optional<std::chrono::seconds> usual_gap_of(const Store& store,
                                                 std::span<const SeriesRow> series) {
  Rhythm rhythm;
  for (const SeriesRow& row : series) {
    const auto latest = store.latest(row.id);
    if (!latest) continue;
    for (const Instant at :
         store.latest_times(row.id, Rhythm::kReadings, latest->time - Rhythm::kSpan)) {
      rhythm.heard(at);
    }
  }
  return rhythm.usual_gap();
}

std::vector<SeriesRow> series_of(std::span<const SeriesRow> all, const Sensor& sensor) {
  std::vector<SeriesRow> series;
  std::ranges::copy_if(all, std::back_inserter(series), [&](const SeriesRow& row) {
    return row.sensor == sensor.id && row.place == sensor.place;
  });
  return series;
}

Result<const Sensor*> find_sensor(const Garden& garden, std::string_view word) {
  std::vector<std::string_view> ids;
  for (const Sensor& sensor : garden.sensors) {
    if (sensor.id == word) return &sensor;
    ids.push_back(sensor.id);
  }
  if (ids.empty()) return refuse("the settings have no sensor yet");
  return refuse(fmt::format("no sensor \"{}\"{}; sensors: {}", escaped(word),
                            did_you_mean(word, ids), fmt::join(ids, ", ")));
}

bool is_trouble(Doubt doubt) {
  switch (doubt) {
    case Doubt::kCalibration:
    case Doubt::kRetained:
    case Doubt::kRepeat:
    case Doubt::kRedelivered:
    case Doubt::kOutOfOrder:
      return false;
    default:
      return doubt != Doubt::kNone;
  }
}

bool is_in_force(const CorrectionRow& row) {
  return !row.until.has_value();
}

std::string gap_text(std::chrono::seconds gap) {
  if (gap < 2min) return fmt::format("{} s", gap.count());
  if (gap < 2h) return fmt::format("{} min", (gap + 30s) / 1min);
  if (gap < 48h) return fmt::format("{} h", (gap + 30min) / 1h);
  return fmt::format("{} days", (gap + 12h) / 24h);
}

// Rounded down: what was heard 110 minutes ago was not heard two hours ago.
std::string age_text(std::optional<Instant> at, Instant now) {
  if (!at) return "never";
  const std::chrono::seconds age = std::max(now - *at, std::chrono::seconds{0});
  if (age < 1min) return "now";
  if (age < 1h) return fmt::format("{} min ago", age / 1min);
  if (age < 48h) return fmt::format("{} h ago", age / 1h);
  return fmt::format("{} days ago", age / 24h);
}

std::string format_text(const SensorHealth& health) {
  if (!health.unclear.empty()) return "not clear";
  if (health.format.empty()) return "-";
  return escaped(health.format) + (health.format_is_found ? " (found)" : "");
}

Json json_of(const CorrectionRow& row) {
  Json json = Json::parse(correction_json(row));
  json["until"] = json_of(row.until);
  json["correction"] = row.id;
  return json;
}

Json json_of(const SensorHealth& health, const Context& context) {
  Json json{{"sensor", health.sensor->id},
            {"place", health.sensor->place},
            {"topic", health.sensor->topic},
            {"format", health.format.empty() ? Json() : Json(health.format)},
            {"format_found", health.format_is_found},
            {"format_could_be", health.unclear.empty() ? Json() : Json(health.unclear)},
            {"heard_at", json_of(health.heard_at)},
            {"heard_local", json_local(health.heard_at, context.zone)},
            {"usual_gap_seconds", Json()},
            {"silent", health.is_silent},
            {"checked_until", json_of(health.checked_until)},
            {"battery", json_of_battery(health)},
            {"doubts", json_of_tallies(health)},
            {"corrections", Json::array()},
            {"advice", advice_for(context, health)}};
  if (health.usual_gap) json["usual_gap_seconds"] = health.usual_gap->count();
  for (const CorrectionRow& row : health.corrections) {
    json["corrections"].push_back(json_of(row));
  }
  return json;
}

}  // namespace rimeward
