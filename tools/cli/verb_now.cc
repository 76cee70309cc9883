// `rimeward now`: what each place is like at this moment.

#include <algorithm>
#include <chrono>
#include <map>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "daemon/climate/trend.h"
#include "daemon/store/place_hours.h"
#include "tools/cli/json_text.h"
#include "tools/cli/table.h"
#include "tools/cli/verb.h"
#include "tools/cli/words.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;

// What is older is told by its age: a temperature of some hours ago is not "now".
constexpr auto kFresh = 1h;
// An opening that was written down longer ago was shut since, and that forgotten.
constexpr std::chrono::days kOpeningHolds{14};
// A slope that no thermometer of a garden can tell from none.
constexpr Kelvins kSteady{0.2};

struct PlaceNow {
  const Place* place = nullptr;
  std::optional<Latest> air;
  std::optional<Kelvins> trend_per_hour;
  std::optional<Latest> humidity;
  bool silent = false;
  int cover_layers = 0;
  std::optional<Instant> open_since;
};

struct NowAnswer {
  std::vector<PlaceNow> places;  // in the order of the settings
  std::vector<NoticeRow> pending;
};

// The last readings of every series, in one pass.
std::map<SeriesId, Series> recent_readings(const Context& context) {
  std::map<SeriesId, Series> readings;
  // Twice the span: the newest reading may be as old as the span is long.
  context.store.each_reading(
      context.now - 2 * kTrendSpan, context.now + 1s, [&readings](const ReadingRow& row) {
        readings[row.series].insert(row.time, from_milli(row.value));
      });
  return readings;
}

// A sensor's own limit counts even while the daemon, which would raise a notice, is down.
bool is_silent(const Context& context, const PlaceNow& place,
               const std::vector<NoticeRow>& pending) {
  for (const NoticeRow& notice : pending) {
    const bool is_its = notice.place.empty() || notice.place == place.place->id;
    const auto sensor =
        std::ranges::find(context.garden.sensors, notice.subject, &Sensor::id);
    if (sensor != context.garden.sensors.end() && is_forecast(*sensor)) continue;
    if (notice.kind == "silent" && is_its) return true;
  }
  for (const Sensor& sensor : context.garden.sensors) {
    if (sensor.place != place.place->id || is_forecast(sensor)) continue;
    return sensor.silent_after && place.air &&
           context.now - place.air->time >= *sensor.silent_after;
  }
  return false;
}

std::optional<Latest> latest_of(const Context& context, std::optional<SeriesId> series) {
  return series ? context.store.latest(*series) : std::nullopt;
}

std::optional<Instant> open_since(const Context& context,
                                  std::span<const OpeningRow> openings,
                                  const Place& place) {
  const auto found = std::ranges::find(openings, place.id, &OpeningRow::place);
  const bool holds = found != openings.end() && found->open &&
                     context.now - found->since <= kOpeningHolds;
  return holds ? std::optional(found->since) : std::nullopt;
}

std::optional<Kelvins> trend_of(const std::map<SeriesId, Series>& readings,
                                std::optional<SeriesId> series, Instant now) {
  if (!series) return std::nullopt;
  const auto found = readings.find(*series);
  if (found == readings.end()) return std::nullopt;
  const auto line = trend(found->second, now);
  return line ? std::optional(line->per_hour) : std::nullopt;
}

NowAnswer answer_now(const Context& context) {
  NowAnswer answer;
  answer.pending = context.store.open_notices();
  const std::vector<SeriesRow> all = context.store.all_series();
  const std::vector<CoverRow> covers = context.store.covers();
  const std::vector<OpeningRow> openings = context.store.openings();
  const std::map<SeriesId, Series> readings = recent_readings(context);
  for (const Place& place : context.garden.places) {
    const auto air = series_of(all, context.garden, place, Channel::kAirTemperature);
    const auto humidity = series_of(all, context.garden, place, Channel::kHumidity);
    PlaceNow now;
    now.place = &place;
    now.air = latest_of(context, air);
    now.trend_per_hour = trend_of(readings, air, context.now);
    now.humidity = latest_of(context, humidity);
    now.silent = is_silent(context, now, answer.pending);
    now.cover_layers = layers_on(covers, place.id);
    now.open_since = open_since(context, openings, place);
    answer.places.push_back(now);
  }
  return answer;
}

std::string heard_text(const Context& context, const PlaceNow& now) {
  if (!now.air) return "never";
  const std::chrono::seconds age = context.now - now.air->time;
  if (age <= kFresh) return context.zone.time_text(now.air->time);
  return age < 48h ? fmt::format("{} h ago", age / 1h)
                   : fmt::format("{} days ago", age / 24h);
}

std::string note_text(const Context& context, const PlaceNow& now, bool cold) {
  if (!cold || !now.place->keep_above) return now.silent ? "silent" : "";
  return fmt::format("{}below {}", now.silent ? "silent, " : "",
                     number(*now.place->keep_above, context.garden.units));
}

std::string open_text(const Context& context, const PlaceNow& now) {
  if (!now.open_since) return "";
  const auto day = [&context](Instant at) {
    return std::chrono::sys_days{context.zone.local_date(at)};
  };
  const std::chrono::days ago = day(context.now) - day(*now.open_since);
  if (ago == 0min) return context.zone.time_text(*now.open_since);
  return ago.count() == 1 ? "1 day" : fmt::format("{} days", ago.count());
}

std::string trend_text(const Context& context, const PlaceNow& now) {
  if (!now.trend_per_hour) return "-";
  const Kelvins slope = *now.trend_per_hour;
  if (slope < kSteady && Kelvins{-slope.degrees} < kSteady) return "steady";
  return signed_number(slope, context.garden.units);
}

std::string text_of_answer(const Context& context, const NowAnswer& answer) {
  using enum Column::Align;
  const TemperatureUnit unit = context.garden.units;
  const Screen& screen = context.around.screen;
  Table table({{.heading = "place", .wraps = true},
               {.heading = fmt::format("air {}", degree_sign(unit)), .align = kRight},
               {.heading = fmt::format("trend {}/h", degree_sign(unit)), .align = kRight},
               {.heading = "humidity %", .align = kRight},
               {.heading = "heard"},
               {.heading = "cover"},
               {.heading = "open"},
               {.heading = "note"}});
  for (const PlaceNow& now : answer.places) {
    const Style note = now.silent ? Style::kUrgent : Style::kPlain;
    const std::optional<Celsius> air =
        now.air ? std::optional(Celsius{from_milli(now.air->value)}) : std::nullopt;
    const bool cold = air && now.place->keep_above && *air < *now.place->keep_above;
    table.add_row(
        {{now.place->name},
         {air ? number(*air, unit) : "-", cold ? Style::kCold : Style::kPlain},
         {trend_text(context, now)},
         {now.humidity ? fmt::format("{:.0f}", from_milli(now.humidity->value)) : "-"},
         {heard_text(context, now)},
         {cover_text(now.cover_layers)},
         {open_text(context, now)},
         {note_text(context, now, cold), note}});
  }
  std::string text =
      paragraphs(garden_heading(context.garden, context.zone, context.now), 0, screen);
  text += "\n" + table.text(screen) + "\n";
  if (answer.pending.empty()) return text + "Nothing is pending.\n";
  return text + "Pending:\n" +
         pending_lines(answer.pending, context.zone, context.now, screen);
}

std::string json_of_answer(const Context& context, const NowAnswer& answer) {
  nlohmann::ordered_json json = json_heading(context);
  json["places"] = nlohmann::ordered_json::array();
  for (const PlaceNow& now : answer.places) {
    std::optional<Celsius> air;
    std::optional<Instant> heard_at;
    if (now.air) {
      air = Celsius{from_milli(now.air->value)};
      heard_at = now.air->time;
    }
    nlohmann::ordered_json humidity;
    if (now.humidity) humidity = from_milli(now.humidity->value);
    json["places"].push_back({{"place", now.place->id},
                              {"name", now.place->name},
                              {"temperature_celsius", json_of(air)},
                              {"trend_celsius_per_hour", json_of(now.trend_per_hour)},
                              {"humidity_percent", humidity},
                              {"heard_at", json_of(heard_at)},
                              {"heard_local", json_local(heard_at, context.zone)},
                              {"silent", now.silent},
                              {"cover_layers", now.cover_layers},
                              {"open_since", json_of(now.open_since)}});
  }
  json["pending"] = json_of(answer.pending, context);
  return json_text(json);
}

Reply run(const Context& context, const Arguments&) {
  const NowAnswer answer = answer_now(context);
  return said(context.around.format == Format::kJson ? json_of_answer(context, answer)
                                                     : text_of_answer(context, answer));
}

}  // namespace

VerbDetails describe_now() {
  return {
      .teaching =
          "Each place as it is now, in the order of the settings.\n\n"
          "`trend` is the way the air has gone over the last 75 minutes: -1.4 cools by "
          "that much an hour, `steady` is under 0.2. `heard` is when the newest "
          "reading was taken; an old one is told by its age. `open` stands there where "
          "one was written down as open (`rimeward open`): since when today, or for how "
          "many days. `note` says which place is silent, and where the air is below "
          "keep-above. A `-` is no reading.\n\n"
          "  rimeward now\n"
          "  place        air °C  trend °C/h  humidity %  heard  cover\n"
          "  North frame     4.6        -1.4          82  18:04  2 layers\n\n"
          "The north frame stands at 4.6 °C under two layers of fleece and loses 1.4 "
          "degrees an hour.",
      .parameters = {},
      .answer = run};
}

}  // namespace rimeward
