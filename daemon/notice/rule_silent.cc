// `silent`: a sensor has not been heard for longer than its rhythm allows, or nothing of
// the whole garden has. A frost warning that rests on a dead sensor would fail without a
// word; and ten notices of ten sensors would hide that it is the broker.

#include <algorithm>

#include <fmt/format.h>

#include "daemon/notice/notice_kinds.h"
#include "daemon/notice/rule.h"
#include "daemon/notice/sensor_words.h"
#include "daemon/notice/silence.h"
#include "daemon/notice/words.h"

namespace rimeward {
namespace {

Phrase rests_on(const Situation& situation, const SensorView& view) {
  if (is_forecast(*view.sensor)) return Phrase::kSilentRestsOnGarden;
  if (is_air_known(situation, view, view.last_heard)) return Phrase::kSilentRestsOnOthers;
  const PlaceView* where = view_of(situation, view.place->id);
  return where != nullptr && where->stand_in ? Phrase::kSilentRestsOnStandIn
                                             : Phrase::kSilentRestsOnOld;
}

std::string what_it_means(const Situation& situation, const SensorView& view) {
  const Wording& wording = situation.wording;
  const PlaceView* where = view_of(situation, view.place->id);
  const bool has_other = where != nullptr && where->stand_in;
  return wording.say(
      rests_on(situation, view), fmt::arg("place", wording.place(view.place->name)),
      fmt::arg("other",
               has_other ? wording.place(where->stand_in->place->name) : std::string{}));
}

std::string what_to_do(const Situation& situation, const SilentSensor& silent) {
  const Wording& wording = situation.wording;
  if (is_forecast(*silent.view->sensor)) {
    return wording.say(Phrase::kSilentForecastRemedy);
  }
  const std::string own = wording.say(
      silent.view->ever_heard ? Phrase::kSilentRemedy : Phrase::kSilentNeverRemedy);
  if (!silent.is_alone) return own;
  return own + " " +
         wording.say(situation.sensors.size() == 1 ? Phrase::kSilentOnlySensor
                                                   : Phrase::kSilentNothingElse);
}

std::string title_for(const Situation& situation, const SensorView& view) {
  const Wording& wording = situation.wording;
  if (is_forecast(*view.sensor)) return wording.say(Phrase::kSilentForecastTitle);
  return sentence(wording.say(Phrase::kSilentTitle,
                              fmt::arg("place", wording.place(view.place->name))));
}

Finding finding_for(const Situation& situation, const SilentSensor& silent) {
  const Wording& wording = situation.wording;
  const SensorView& view = *silent.view;
  Finding finding = finding_about(view, true);
  finding.title = title_for(situation, view);
  finding.body =
      wording.say(view.ever_heard ? Phrase::kSilentLastHeard : Phrase::kSilentNeverHeard,
                  fmt::arg("sensor", view.sensor->id),
                  fmt::arg("when", wording.day_and_time(view.last_heard)));
  if (view.usual_gap) {
    finding.body += " " + wording.say(Phrase::kSilentUsualGap,
                                      fmt::arg("span", wording.span(*view.usual_gap)));
  }
  finding.body +=
      " " + what_it_means(situation, view) + " " + what_to_do(situation, silent);
  return finding;
}

Finding finding_for_garden(const Situation& situation, Instant since) {
  const Wording& wording = situation.wording;
  const bool was_heard = std::ranges::any_of(situation.sensors, &SensorView::ever_heard);
  Finding finding;
  finding.subject = kWholeGarden;
  finding.holds = true;
  finding.title = wording.say(Phrase::kSilentGardenTitle);
  finding.body =
      wording.say(was_heard ? Phrase::kSilentGarden : Phrase::kSilentGardenNever,
                  fmt::arg("count", situation.sensors.size()),
                  fmt::arg("when", wording.day_and_time(since)));
  return finding;
}

}  // namespace

std::vector<Finding> find_silent(const Situation& situation) {
  const Silence silence = silence_among(situation.sensors, situation.now);
  std::vector<Finding> findings;
  for (const SilentSensor& silent : silence.sensors) {
    findings.push_back(finding_for(situation, silent));
  }
  if (silence.garden_since) {
    findings.push_back(finding_for_garden(situation, *silence.garden_since));
  }
  return findings;
}

}  // namespace rimeward
