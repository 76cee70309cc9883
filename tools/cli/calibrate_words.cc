#include "tools/cli/calibrate_words.h"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "daemon/base/text.h"
#include "daemon/notice/sensor_words.h"
#include "sensors/escape.h"
#include "tools/cli/json_text.h"
#include "tools/cli/quantity.h"
#include "tools/cli/sensors_answer.h"
#include "tools/cli/words.h"

namespace rimeward {
namespace {

using Json = nlohmann::ordered_json;

// Physics and practice: Measurement Standards Laboratory of New Zealand, Technical Guide
// 1, version 3, 2019, in our own words.
constexpr std::string_view kIceSteps =
    "1. Crush clean ice and fill a vacuum flask with it. Pour in cold water until the "
    "gaps are just full: wet ice all the way down, not ice that swims on water.\n"
    "2. Only a waterproof probe on low voltage goes into the ice itself. Any other "
    "sensor stays dry, in a thin bag that is closed tightly. Nothing that hangs on the "
    "mains goes near the water.\n"
    "3. Push it deep into the ice, off the wall and off the bottom, where the warmer "
    "water gathers. Stir, and press the ice down again now and then.\n"
    "4. Leave it until it is steady";

constexpr std::string_view kSaltSteps =
    "1. Wet {0} in a small open dish until it is a slurry: some of the salt must stay "
    "undissolved.\n"
    "2. Put the dish into a glass jar that closes tightly, and the sensor above it. "
    "Neither salt nor drops may touch the sensor's element. It must run on batteries; "
    "nothing that hangs on the mains.\n"
    "3. Close the jar, and leave it where it stays equally warm, out of the sun. A "
    "degree between sensor and salt makes about 6 % of what it says.\n"
    "4. Keep salt and jar away from food, children and animals.\n"
    "5. Leave it for 6 to 24 hours";

// The readings that it takes, at its own pace.
std::string how_long(const CheckPlan& plan,
                     std::optional<std::chrono::seconds> usual_gap) {
  if (!usual_gap) return "";
  const auto needed = static_cast<int>(kSteadyReadings) * *usual_gap;
  if (needed <= plan.method->limits.span) return "";
  return fmt::format("; it says something every {}, so that takes {} and more",
                     gap_text(*usual_gap), gap_text(needed));
}

Json json_of_line(const CorrectionRow& row) {
  return {{"gain", row.gain}, {"offset", row.offset}, {"uncertainty", row.uncertainty}};
}

}  // namespace

std::string command_for(const CheckPlan& plan) {
  std::string command =
      fmt::format("rimeward calibrate {} {}", plan.sensor->id, plan.method->name);
  if (plan.salt != nullptr) command += fmt::format(" --salt {}", plan.salt->name);
  return command;
}

std::string steps(const Context& context, const CheckPlan& plan,
                  const RunningCheck& check,
                  std::optional<std::chrono::seconds> usual_gap) {
  const std::string until = when_text(check.until, context.now, context.zone);
  std::string text = fmt::format(
      "{} is being checked from now on, until {} at most. What it says meanwhile is kept "
      "apart and does not count for {}.\n\n",
      plan.sensor->id, until,
      in_sentence(place_name(context.garden, plan.sensor->place)));
  if (plan.salt != nullptr) {
    text += fmt::format(fmt::runtime(kSaltSteps), plan.salt->words);
  } else {
    text += kIceSteps;
  }
  return text + how_long(plan, usual_gap) + ".\n\n";
}

std::string words_for(const NotSteady& why, const CheckPlan& plan, TemperatureUnit unit) {
  const std::string amount = size_of_difference(plan.channel, why.amount, unit);
  switch (why.why) {
    case NotSteady::Why::kTooFew:
      return fmt::format("{} {} so far, at least {} are wanted", why.readings,
                         why.readings == 1 ? "reading" : "readings", kSteadyReadings);
    case NotSteady::Why::kTooShort:
      return fmt::format("{} readings in {} so far, at least {} are wanted", why.readings,
                         gap_text(why.span), gap_text(plan.method->limits.span));
    case NotSteady::Why::kDrifts:
      return fmt::format("still {}, by {} in {}", why.amount < 0 ? "falls" : "rises",
                         amount, gap_text(why.span));
    case NotSteady::Why::kScatters:
      break;
  }
  return fmt::format("still goes up and down, by {}", amount);
}

std::string words_for(const FoundCorrection& found, const Context& context) {
  const TemperatureUnit unit = context.garden.units;
  const CorrectionRow& row = found.row;
  std::string text;
  if (found.read && found.known) {
    text = fmt::format("It says {}, steady over {} readings from {} to {}. True is {}.\n",
                       fine_quantity(row.channel, found.read->mean, unit),
                       found.read->readings,
                       when_text(found.read->from, context.now, context.zone),
                       when_text(found.read->to, context.now, context.zone),
                       fine_quantity(row.channel, found.known->value, unit));
  }
  if (!found.with_salt.empty()) {
    text += fmt::format("With what was found above {} that makes a line through both.\n",
                        found.with_salt);
  }
  text += fmt::format("Correction of its {}: {}{}.\n", words_for(row.channel),
                      correction_text(row, unit),
                      row.uncertainty > 0 ? uncertainty_text(row, unit) + " (95 %)" : "");
  const bool is_small = row.gain == 1 && std::abs(row.offset) <= row.uncertainty;
  if (is_small) {
    text += "That is within its uncertainty: the sensor may well be right as it is.\n";
  }
  if (found.replaces) {
    text += fmt::format("It takes the place of {}{}, in force since {} ({}).\n",
                        correction_text(*found.replaces, unit),
                        uncertainty_text(*found.replaces, unit),
                        context.zone.date_text(found.replaces->since),
                        escaped(found.replaces->method, 80));
  }
  return text;
}

std::string doubts_about(const FoundCorrection& found, const Context& context) {
  const Channel channel = found.row.channel;
  const std::string limit =
      size_of_difference(channel, *found.too_far, context.garden.units);
  const std::string_view other = found.row.method == "ice" ? "the ice water"
                                 : found.read              ? "the jar"
                                                           : "what it was held against";
  return fmt::format(
      "That is more than the {} by which a sound sensor of its kind may be off. Doubt {} "
      "first, then the sensor: one so far off is hardly worth correcting.",
      limit, other);
}

Json json_of(const FoundCorrection& found) {
  Json json{{"sensor", found.row.sensor},
            {"channel", traits(found.row.channel).name},
            {"method", found.row.method}};
  if (found.read && found.known) {
    json["said"] = from_milli(to_milli(found.read->mean));
    json["true"] = from_milli(to_milli(found.known->value));
    json["readings"] = found.read->readings;
    json["read_from"] = json_of(std::optional(found.read->from));
    json["read_to"] = json_of(std::optional(found.read->to));
  }
  json.update(json_of_line(found.row));
  json["points"] = Json::parse(found.row.points);
  json["unit"] = traits(found.row.channel).unit;
  json["too_far_off"] = found.too_far.has_value();
  json["replaces"] = found.replaces ? Json(found.replaces->id) : Json();
  return json;
}

}  // namespace rimeward
