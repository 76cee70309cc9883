// `silent`: a sensor has not been heard for longer than its rhythm allows. A frost
// warning that rests on a dead sensor would fail without a word.

#include <algorithm>

#include <fmt/format.h>

#include "daemon/base/text.h"
#include "daemon/notice/rule.h"
#include "daemon/notice/words.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;

// Without a limit of its own, a sensor may miss four of its usual gaps, within these.
constexpr int kMissedGaps = 4;
constexpr std::chrono::seconds kShortest = 30min;
constexpr std::chrono::seconds kLongest = 6h;
// While its rhythm is not known yet: long enough for two readings of an hourly sensor.
constexpr std::chrono::seconds kUnknownRhythm = 2h;

std::chrono::seconds limit(const SensorView& view) {
  if (view.sensor->silent_after) return *view.sensor->silent_after;
  if (!view.usual_gap) return kUnknownRhythm;
  return std::clamp(*view.usual_gap * kMissedGaps, kShortest, kLongest);
}

std::string body_for(const Situation& situation, const SensorView& view) {
  const std::string since =
      fmt::format("{} on {} {}", situation.zone.time_text(view.last_heard),
                  situation.zone.weekday_text(view.last_heard),
                  situation.zone.date_text(view.last_heard));
  std::string body = view.ever_heard
                         ? fmt::format("{} was last heard at {}.", view.sensor->id, since)
                         : fmt::format("{} has never been heard; waited for since {}.",
                                       view.sensor->id, since);
  if (view.usual_gap) {
    body += fmt::format(" It usually reports every {}.", span_text(*view.usual_gap));
  }
  body += fmt::format(
      " Until it does, what is said of {} rests on older readings, and no frost there "
      "will "
      "be noticed in the night. Look at its battery, and whether it can still be "
      "reached.",
      in_sentence(view.place->name));
  return body;
}

}  // namespace

std::vector<Finding> find_silent(const Situation& situation) {
  std::vector<Finding> findings;
  for (const SensorView& view : situation.sensors) {
    if (situation.now - view.last_heard < limit(view)) continue;
    Finding finding;
    finding.subject = view.sensor->id;
    finding.place = view.place->id;
    finding.holds = true;
    finding.title =
        fmt::format("The sensor in {} is silent", in_sentence(view.place->name));
    finding.body = body_for(situation, view);
    findings.push_back(std::move(finding));
  }
  return findings;
}

}  // namespace rimeward
