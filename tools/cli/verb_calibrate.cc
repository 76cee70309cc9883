// `rimeward calibrate SENSOR METHOD`: a sensor held against something known, and what
// must be added to what it says from then on.

#include <algorithm>
#include <array>
#include <string>
#include <string_view>
#include <vector>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "daemon/base/text.h"
#include "daemon/notice/sensor_words.h"
#include "sensors/escape.h"
#include "tools/cli/calibrate_arguments.h"
#include "tools/cli/calibrate_check.h"
#include "tools/cli/calibrate_session.h"
#include "tools/cli/calibrate_store.h"
#include "tools/cli/json_text.h"
#include "tools/cli/quantity.h"
#include "tools/cli/sensors_views.h"
#include "tools/cli/table.h"
#include "tools/cli/words.h"

namespace rimeward {
namespace {

using Json = nlohmann::ordered_json;

constexpr std::string_view kSensor = "SENSOR";
constexpr std::string_view kMethod = "METHOD";
constexpr std::string_view kSalt = "--salt";
constexpr std::string_view kAt = "--at";
constexpr std::string_view kBy = "--by";
constexpr std::string_view kPoints = "--points";
constexpr std::string_view kWait = "--wait";
constexpr std::string_view kYes = "--yes";
constexpr std::string_view kAnyway = "--anyway";

bool can_be_corrected(Channel channel) {
  return is_measured(channel) && channel != Channel::kBatteryPercent &&
         channel != Channel::kBatteryVoltage && channel != Channel::kSignal;
}

Result<const Salt*> salt_of(const Arguments& arguments) {
  std::vector<std::string_view> names;
  for (const Salt& salt : all_salts())
    names.push_back(salt.name);
  const auto word = arguments.text(kSalt);
  if (!word) {
    return refuse(fmt::format("salt needs --salt NAME: {}", fmt::join(names, ", ")));
  }
  if (const Salt* salt = find_salt(*word)) return salt;
  return refuse(fmt::format("no salt \"{}\"{}; salts: {}", escaped(*word),
                            did_you_mean(*word, names), fmt::join(names, ", ")));
}

// What both checks may be told.
Result<CheckPlan> plan_of(const Arguments& arguments, const Sensor& sensor,
                          const CheckMethod& method) {
  CheckPlan plan{.sensor = &sensor, .method = &method};
  plan.yes = arguments.given(kYes);
  plan.anyway = arguments.given(kAnyway);
  if (const auto word = arguments.text(kWait)) {
    const auto patience = duration_from_text(*word);
    if (!patience) return refuse(fmt::format("--wait: {}", patience.error().message));
    plan.patience = std::chrono::ceil<std::chrono::seconds>(*patience);
  }
  return plan;
}

bool goes_into_ice(Channel channel) {
  return is_temperature(channel) && is_measured(channel);
}

Reply check_in_ice(const Context& context, const Sensor& sensor,
                   const Arguments& arguments) {
  auto plan = plan_of(arguments, sensor, kIceCheck);
  if (!plan) return misused(plan.error().message);
  const auto channel =
      choose_channel(context, sensor, arguments, goes_into_ice, "checked in ice water");
  if (!channel) return misused(channel.error().message);
  plan->channel = *channel;
  return run_check(context, *plan);
}

// What the jar's temperature will be known by: said, or the sensor's own.
Result<std::optional<Celsius>> jar_temperature(const Context& context,
                                               const Sensor& sensor,
                                               const Arguments& arguments) {
  if (arguments.given(kAt)) {
    const auto at = number_of(arguments, kAt);
    if (!at) return tl::unexpected(at.error());
    return Celsius{value_from_shown(Channel::kAirTemperature, *at, context.garden.units)};
  }
  const auto series = series_of(context.store.all_series(), sensor);
  if (std::ranges::find(series, Channel::kAirTemperature, &SeriesRow::channel) ==
      series.end()) {
    return refuse(
        fmt::format("{} tells no temperature: say that of the jar, such as "
                    "--at 21",
                    sensor.id));
  }
  return std::nullopt;
}

Reply check_over_salt(const Context& context, const Sensor& sensor,
                      const Arguments& arguments) {
  auto plan = plan_of(arguments, sensor, kSaltCheck);
  if (!plan) return misused(plan.error().message);
  const auto salt = salt_of(arguments);
  if (!salt) return misused(salt.error().message);
  plan->salt = *salt;
  const auto channel = choose_channel(
      context, sensor, arguments, [](Channel each) { return each == Channel::kHumidity; },
      "checked over salt");
  if (!channel) return misused(channel.error().message);
  plan->channel = *channel;
  const auto at = jar_temperature(context, sensor, arguments);
  if (!at) return misused(at.error().message);
  plan->at = *at;
  if (plan->at) {
    const auto known = salt_humidity(**salt, *plan->at, Kelvins{0});
    if (!known) return misused(fmt::format("--at: {}", known.error().message));
  }
  return run_check(context, *plan);
}

// Stores what was found without a check.
Reply settle_by_hand(const Context& context, const Sensor& sensor, FoundCorrection found,
                     const Arguments& arguments) {
  Session session(context);
  hold_against(context, sensor, found);
  const Decision decision = decide(
      session, found, {.yes = arguments.given(kYes), .anyway = arguments.given(kAnyway)});
  Json details = json_of(found);
  switch (decision) {
    case Decision::kStore:
      details["state"] = "stored";
      return session.correct(found.row, "Stored, and in force from now on.", details);
    case Decision::kLeave:
      details["state"] = "not stored";
      return session.answer(0, "Nothing is stored.", details);
    case Decision::kTooFar:
      details["state"] = "too far off";
      return session.answer(1, "Nothing is stored; the same with --yes --anyway would.",
                            details);
    case Decision::kNobodyAsked:
      break;
  }
  details["state"] = "not stored";
  return session.answer(0, "Nothing is stored yet; the same with --yes does.", details);
}

FoundCorrection found_by_hand(const Context& context, const Sensor& sensor,
                              Channel channel, std::string_view method) {
  FoundCorrection found;
  found.row.sensor = sensor.id;
  found.row.channel = channel;
  found.row.since = context.now;
  found.row.method = method;
  found.row.points = "[]";
  return found;
}

Reply offset_by_hand(const Context& context, const Sensor& sensor,
                     const Arguments& arguments) {
  const auto by = number_of(arguments, kBy);
  if (!by) return misused(by.error().message);
  const auto channel =
      choose_channel(context, sensor, arguments, can_be_corrected, "corrected");
  if (!channel) return misused(channel.error().message);
  FoundCorrection found = found_by_hand(context, sensor, *channel, "offset");
  found.row.offset = difference_from_shown(*channel, *by, context.garden.units);
  return settle_by_hand(context, sensor, std::move(found), arguments);
}

Reply line_by_hand(const Context& context, const Sensor& sensor,
                   const Arguments& arguments) {
  auto points = points_from_text(arguments.text(kPoints).value_or(""));
  if (!points) return misused(points.error().message);
  if (points->size() != 2) {
    return misused("two-point wants two pairs; for one there is offset --by");
  }
  const auto channel =
      choose_channel(context, sensor, arguments, can_be_corrected, "corrected");
  if (!channel) return misused(channel.error().message);
  for (SaidAndTrue& point : *points) {
    point.said = value_from_shown(*channel, point.said, context.garden.units);
    point.known = value_from_shown(*channel, point.known, context.garden.units);
  }
  const auto line =
      line_through({.said = points->at(0).said, .known = points->at(0).known},
                   {.said = points->at(1).said, .known = points->at(1).known}, *channel);
  if (!line) return misused(fmt::format("two-point: {}", line.error().message));
  FoundCorrection found = found_by_hand(context, sensor, *channel, "two-point");
  put_line(*line, found.row);
  found.row.points = points_json(*points);
  return settle_by_hand(context, sensor, std::move(found), arguments);
}

// Of the channel that is named, or of all.
Result<std::vector<CorrectionRow>> corrections_of(const Context& context,
                                                  const Sensor& sensor,
                                                  const Arguments& arguments) {
  std::optional<Channel> only;
  if (const auto word = arguments.text(kChannelOption)) {
    only = channel_named(*word);
    std::vector<std::string_view> names;
    for (const ChannelTraits& channel : all_channels())
      names.push_back(channel.name);
    if (!only) {
      return refuse(fmt::format("no channel \"{}\"{}; channels: {}", escaped(*word),
                                did_you_mean(*word, names), fmt::join(names, ", ")));
    }
  }
  std::vector<CorrectionRow> rows;
  for (CorrectionRow& row : context.store.corrections()) {
    if (row.sensor != sensor.id || (only && row.channel != *only)) continue;
    rows.push_back(std::move(row));
  }
  return rows;
}

Reply list(const Context& context, const Sensor& sensor, const Arguments& arguments) {
  const auto rows = corrections_of(context, sensor, arguments);
  if (!rows) return misused(rows.error().message);
  if (context.around.format == Format::kJson) {
    Json json = json_heading(context);
    json["sensor"] = sensor.id;
    json["corrections"] = Json::array();
    for (const CorrectionRow& row : *rows)
      json["corrections"].push_back(json_of(row));
    return said(json_text(json));
  }
  if (rows->empty()) return said(fmt::format("{} is not corrected.\n", sensor.id));
  Table table({{.heading = "id", .align = Column::Align::kRight},
               {.heading = "in force"},
               {.heading = "correction", .wraps = true}});
  for (const CorrectionRow& row : *rows) {
    table.add_row({{fmt::format("{}", row.id)},
                   {is_in_force(row) ? "yes" : "no"},
                   {correction_sentence(context, row)}});
  }
  return said(table.text(context.around.screen));
}

// The correction that this one took the place of, and that is in force again without it.
const CorrectionRow* before(const std::vector<CorrectionRow>& rows,
                            const CorrectionRow& row) {
  const auto found = std::ranges::find_if(rows, [&row](const CorrectionRow& other) {
    return other.channel == row.channel && other.until == row.since && other.id != row.id;
  });
  return found == rows.end() ? nullptr : &*found;
}

Reply undo(const Context& context, const Sensor& sensor, const Arguments& arguments) {
  const auto rows = corrections_of(context, sensor, arguments);
  if (!rows) return misused(rows.error().message);
  const auto found = std::find_if(rows->rbegin(), rows->rend(), is_in_force);
  if (found == rows->rend()) {
    return could_not(fmt::format("no correction of {} is in force", sensor.id));
  }
  const CorrectionRow* earlier = before(*rows, *found);
  const std::string then =
      earlier == nullptr
          ? fmt::format("Its {} counts as the sensor says it", words_for(found->channel))
          : fmt::format("In force again: {} ({})",
                        correction_text(*earlier, context.garden.units),
                        escaped(earlier->method, 80));
  Session session(context);
  return session.undo(
      *found, fmt::format("Undone from now on: {}. {}. Readings from its time stay as "
                          "they are; nothing is lost.",
                          correction_sentence(context, *found), then));
}

Reply stop(const Context& context, const Sensor& sensor, const Arguments&) {
  const auto running = running_check(context.store, sensor.id, context.now);
  if (!running) return could_not(fmt::format("no check of {} is going on", sensor.id));
  Session session(context);
  // What is only settling after a check is called back at once.
  const bool settles = running->until - running->since == kSettling;
  const std::chrono::seconds still = settles ? std::chrono::seconds{0} : kSettling;
  session.check_for(sensor.id, still);
  const std::string from =
      settles ? "now" : when_text(context.now + still, context.now, context.zone);
  return session.answer(
      0,
      fmt::format("The check of {} is over and nothing is stored. What it says counts "
                  "again from {} on.",
                  sensor.id, from),
      {{"sensor", sensor.id},
       {"state", "stopped"},
       {"counts_from", json_of(std::optional(context.now + still))}});
}

struct MethodEntry {
  std::string_view name;
  Reply (*run)(const Context& context, const Sensor& sensor, const Arguments& arguments);
};

constexpr std::array kMethods{MethodEntry{"ice", check_in_ice},
                              MethodEntry{"salt", check_over_salt},
                              MethodEntry{"offset", offset_by_hand},
                              MethodEntry{"two-point", line_by_hand},
                              MethodEntry{"list", list},
                              MethodEntry{"undo", undo},
                              MethodEntry{"stop", stop}};

Reply run(const Context& context, const Arguments& arguments) {
  const auto sensor = find_sensor(context.garden, arguments.text(kSensor).value_or(""));
  if (!sensor) return misused(sensor.error().message);
  const std::string_view word = arguments.text(kMethod).value_or("");
  const auto* method = std::ranges::find(kMethods, word, &MethodEntry::name);
  if (method != kMethods.end()) return method->run(context, **sensor, arguments);
  std::vector<std::string_view> names;
  for (const MethodEntry& each : kMethods)
    names.push_back(each.name);
  return misused(fmt::format("no method \"{}\"{}; methods: {}", escaped(word),
                             did_you_mean(word, names), fmt::join(names, ", ")));
}

constexpr Parameter kParameters[]{
    {kSensor, "", "the sensor, by its id", true, Offers::kSensors},
    {kMethod, "", "ice, salt, offset, two-point, list, undo or stop", true,
     Offers::kWords, "ice salt offset two-point list undo stop"},
    {.name = kChannelOption,
     .value = "NAME",
     .help = "which of its channels, where more than one would do",
     .offers = Offers::kWords,
     .words = "temperature humidity soil_temperature soil_moisture light pressure "
              "forecast_low",
     .goes_with = "ice salt offset two-point list undo"},
    {.name = kSalt,
     .value = "NAME",
     .help = "salt: which, such as sodium-chloride",
     .offers = Offers::kWords,
     .words = "lithium-chloride magnesium-chloride potassium-carbonate sodium-chloride "
              "potassium-chloride potassium-sulfate",
     .goes_with = "salt"},
    {.name = kAt,
     .value = "DEGREES",
     .help = "salt: the jar's temperature (default: as the sensor says)",
     .goes_with = "salt"},
    {.name = kBy,
     .value = "X",
     .help = "offset: what to add to what it says, such as -0.4",
     .goes_with = "offset"},
    {.name = kPoints,
     .value = "PAIRS",
     .help = "two-point: said=true twice, such as 0.4=0.0,21.3=20.8",
     .goes_with = "two-point"},
    {.name = kWait,
     .value = "TIME",
     .help = "how long to stay (default: ice 2h; salt not at all)",
     .goes_with = "ice salt"},
    {.name = kYes,
     .value = "",
     .help = "store what comes of it without asking",
     .goes_with = "ice salt offset two-point"},
    {.name = kAnyway,
     .value = "",
     .help = "store even what no sound sensor needs",
     .goes_with = "ice salt offset two-point"},
};

}  // namespace

VerbDetails describe_calibrate() {
  return {
      .teaching =
          "Holds a sensor against something known and stores the difference: what it "
          "says "
          "from then on is corrected by it. What it said before stays as it is.\n\n"
          "`ice` and `salt` say the steps, set the sensor's readings apart for the time, "
          "and wait until they are steady: a probe in crushed ice is at 0 °C, and above "
          "a wet salt in a closed jar the humidity is known. Ice takes half an hour; "
          "salt takes a night: leave it, and call the same command again. `stop` ends "
          "either. `offset` and `two-point` take what you found yourself, in the "
          "garden's units. `list` shows the corrections, `undo` takes the newest "
          "back.\n\n"
          "  rimeward calibrate north-probe ice\n"
          "  It says 0.43 °C, steady over 6 readings from 18:31 to 18:37. True is 0.00 "
          "°C.\n"
          "  Correction of its temperature: -0.43 °C ± 0.12 °C (95 %).\n"
          "  Store it? [y/N]\n\n"
          "A second salt after a first makes a line through both points: sodium-chloride "
          "(75 %) and magnesium-chloride (33 %) do. Above 95 % no correction from salts "
          "can be trusted.",
      .parameters = kParameters,
      .writes = true,
      .answer = run};
}

}  // namespace rimeward
