// What a gardener should do about a sensor, in plain sentences.

#include <algorithm>
#include <string>
#include <vector>

#include <fmt/format.h>

#include "daemon/base/text.h"
#include "daemon/intake.h"
#include "sensors/decoders.h"
#include "sensors/escape.h"
#include "tools/cli/sensors_answer.h"
#include "tools/cli/words.h"

namespace rimeward {
namespace {

// Fewer in a day are a passing fault; and so is less than one in twenty.
constexpr int kManyDoubted = 4;
constexpr int kOneIn = 20;

std::string_view remedy_for(Doubt doubt) {
  switch (doubt) {
    case Doubt::kRange:
      return "look at its plug and wires, and whether the settings give its right type "
             "and unit";
    case Doubt::kPowerOn:
    case Doubt::kNotConnected:
    case Doubt::kJump:
      return "look at its plug, its wires and its power, and for water in them";
    case Doubt::kStuck:
      return "switch it off and on again";
    case Doubt::kSameSecond:
      return "look whether two sensors publish to its topic";
    case Doubt::kFuture:
    case Doubt::kTooOld:
      return "set its clock, or let it send no time";
    default:
      return "look at it";
  }
}

// The names of decoders, as the daemon lists what a message could be.
std::vector<std::string> formats_in(std::string_view list) {
  std::vector<std::string> formats;
  for (const Decoder& decoder : all_decoders()) {
    const auto name = fmt::format(", {},", decoder.name);
    if (fmt::format(", {},", list).find(name) != std::string::npos) {
      formats.push_back(fmt::format("format = \"{}\"", decoder.name));
    }
  }
  return formats;
}

std::string unclear(const SensorHealth& health) {
  std::vector<std::string> formats = formats_in(health.unclear);
  const bool is_number = health.unclear.find(kUnknownChannel) != std::string::npos;
  if (is_number && !formats.empty()) {
    formats.push_back("channel = \"temperature\", or what else the number is");
  }
  if (formats.empty()) {
    return fmt::format(
        "What {} sends is not clear: {}. Nothing of it is stored until the settings say "
        "what it is: write it into its [[sensor]], such as channel = \"temperature\".",
        health.sensor->id, escaped(health.unclear, 80));
  }
  return fmt::format(
      "What {} sends can be read in more than one way, and is not guessed at: nothing of "
      "it is stored until the settings say which. Write one of these into its "
      "[[sensor]]: {}.",
      health.sensor->id, fmt::join(formats, ", or "));
}

std::string never_heard(const SensorHealth& health) {
  return fmt::format(
      "{} has never been heard. Look whether it is switched on, and whether it publishes "
      "to \"{}\"; `rimeward sensors --heard` shows what else is heard.",
      health.sensor->id, escaped(health.sensor->topic, 80));
}

bool is_doubted_much(const Lately& lately) {
  return lately.doubted >= kManyDoubted &&
         lately.doubted * kOneIn >= lately.doubted + lately.believed;
}

std::string doubted_much(const SensorHealth& health) {
  const Lately& lately = health.lately;
  return fmt::format(
      "{} of the {} readings of {} in the last day were not believed, mostly: {}. "
      "`rimeward sensors {}` shows the last of them; {}.",
      lately.doubted, lately.doubted + lately.believed, health.sensor->id,
      traits(lately.mostly).words, health.sensor->id, remedy_for(lately.mostly));
}

}  // namespace

std::vector<std::string> advice_for(const Context& context, const SensorHealth& health) {
  const auto when = [&](Instant at) { return when_text(at, context.now, context.zone); };
  const std::string& id = health.sensor->id;
  std::vector<std::string> advice;
  if (health.checked_until) {
    advice.push_back(
        fmt::format("{0} is being checked until {1}: what it says meanwhile is not the "
                    "place's. `rimeward calibrate {0} stop` ends that.",
                    id, when(*health.checked_until)));
  }
  if (!health.unclear.empty()) {
    advice.push_back(unclear(health));
  } else if (health.unreadable_at) {
    advice.push_back(
        fmt::format("What {} sent at {} could not be read. Look whether the settings "
                    "have its format; the daemon's log says what was wrong.",
                    id, when(*health.unreadable_at)));
  } else if (!health.heard_at) {
    advice.push_back(never_heard(health));
  }
  if (health.is_silent && health.heard_at) {
    advice.push_back(fmt::format(
        "{} is silent since {}: look at {}.", id, when(*health.heard_at),
        is_forecast(*health.sensor) ? "what passes it on to the broker"
                                    : "its battery, and whether it can still be "
                                      "reached"));
  }
  if (is_doubted_much(health.lately)) advice.push_back(doubted_much(health));
  if (health.battery && health.battery->is_low) {
    advice.push_back(fmt::format("The battery of {} is low: put in fresh cells.", id));
  }
  return advice;
}

}  // namespace rimeward
