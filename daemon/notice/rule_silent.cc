// `silent`: a sensor has not been heard for longer than its rhythm allows, or nothing of
// the whole garden has. A frost warning that rests on a dead sensor would fail without a
// word; and ten notices of ten sensors would hide that it is the broker.

#include <algorithm>

#include <fmt/format.h>

#include "daemon/base/text.h"
#include "daemon/notice/rule.h"
#include "daemon/notice/sensor_words.h"
#include "daemon/notice/silence.h"
#include "daemon/notice/words.h"

namespace rimeward {
namespace {

// With a space, so that no sensor can be called so.
constexpr const char* kGarden = "the garden";

std::string last_word_of(const Situation& situation, const SensorView& view) {
  const std::string when = day_and_time(situation.zone, view.last_heard);
  return view.ever_heard ? fmt::format("{} was last heard at {}.", view.sensor->id, when)
                         : fmt::format("{} has never been heard; waited for since {}.",
                                       view.sensor->id, when);
}

std::string what_it_means(const Situation& situation, const SensorView& view) {
  if (is_forecast(*view.sensor)) {
    return "Until it is heard, the outlooks rest on the garden's own readings alone.";
  }
  const std::string place = in_sentence(view.place->name);
  if (is_air_known(situation, view, view.last_heard)) {
    return fmt::format(
        "Until it is heard, what is said of {} rests on the other sensors there.", place);
  }
  const PlaceView* where = view_of(situation, view.place->id);
  if (where != nullptr && where->stand_in) {
    return fmt::format(
        "Until it is heard, what is said of {} rests on {} and how the two usually "
        "differ, and is less sure.",
        place, in_sentence(where->stand_in->place->name));
  }
  return fmt::format(
      "Until it is heard, what is said of {} rests on older readings, and no frost there "
      "will be noticed in the night.",
      place);
}

std::string what_to_do(const Situation& situation, const SilentSensor& silent) {
  if (is_forecast(*silent.view->sensor))
    return "Look at what passes it on to the broker.";
  std::string own =
      silent.view->ever_heard
          ? "Look at its battery, and whether it can still be reached."
          : "Look whether it is on and can be reached, and whether its topic is right.";
  if (!silent.is_alone) return own;
  if (situation.sensors.size() == 1) {
    return own +
           " It is the only sensor, so it may be the broker or the network: look "
           "at these, too.";
  }
  return own +
         " Nothing else has been heard lately, so it may be the broker or the "
         "network: look at these, too.";
}

Finding finding_for(const Situation& situation, const SilentSensor& silent) {
  const SensorView& view = *silent.view;
  std::string body = last_word_of(situation, view);
  if (view.usual_gap) {
    body += fmt::format(" It usually reports every {}.", span_text(*view.usual_gap));
  }
  Finding finding = finding_about(view, true);
  finding.title =
      is_forecast(*view.sensor)
          ? std::string("The forecast from outside is silent")
          : fmt::format("The sensor in {} is silent", in_sentence(view.place->name));
  finding.body = fmt::format("{} {} {}", body, what_it_means(situation, view),
                             what_to_do(situation, silent));
  return finding;
}

std::string body_for_garden(const Situation& situation, Instant since) {
  const std::string when = day_and_time(situation.zone, since);
  const std::size_t sensors = situation.sensors.size();
  if (std::ranges::any_of(situation.sensors, &SensorView::ever_heard)) {
    return fmt::format(
        "None of its {} sensors has been heard since {}. That is hardly the fault of "
        "each: look at the broker, the router, and the power of both. Until they are "
        "heard, all advice rests on older readings, and no frost will be noticed in the "
        "night.",
        sensors, when);
  }
  return fmt::format(
      "None of its {} sensors has ever been heard; they are waited for since {}. Look "
      "whether they send to this broker, whether their topics in the settings are "
      "right, and whether [broker] listen takes these in. Until they are heard there is "
      "no advice.",
      sensors, when);
}

}  // namespace

std::vector<Finding> find_silent(const Situation& situation) {
  const Silence silence = silence_among(situation.sensors, situation.now);
  std::vector<Finding> findings;
  for (const SilentSensor& silent : silence.sensors) {
    findings.push_back(finding_for(situation, silent));
  }
  if (silence.garden_since) {
    Finding finding;
    finding.subject = kGarden;
    finding.holds = true;
    finding.title = "Nothing is heard from the garden";
    finding.body = body_for_garden(situation, *silence.garden_since);
    findings.push_back(std::move(finding));
  }
  return findings;
}

}  // namespace rimeward
