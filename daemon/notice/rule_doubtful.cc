// `doubtful`: a sensor says so much that cannot be true that it wants looking at. What
// was doubted is left out of everything, so that without a word the place would go
// unwatched.

#include <vector>

#include <fmt/format.h>

#include "daemon/climate/trend.h"
#include "daemon/notice/rule.h"
#include "daemon/notice/sensor_words.h"
#include "daemon/notice/words.h"

namespace rimeward {
namespace {

// Of the newest Doubts::kMessages. One or two are a loose contact or a passing cloud of
// radio; a sensor that is stuck says nothing else any more.
constexpr int kMany = 4;
constexpr int kSome = 2;

bool holds(const Doubts& doubts) {
  return doubts.doubtful >= (doubts.mostly == Doubt::kStuck ? kSome : kMany);
}

// What is wrong and what to do, a sentence each.
std::vector<Phrase> complaint_about(const Doubts& doubts) {
  switch (doubts.mostly) {
    case Doubt::kRange:
      return {Phrase::kDoubtfulRange, Phrase::kDoubtfulLookAtType};
    case Doubt::kPowerOn:
      return {Phrase::kDoubtfulPowerOn, Phrase::kDoubtfulLookAtPower};
    case Doubt::kNotConnected:
      return {Phrase::kDoubtfulNotConnected, Phrase::kDoubtfulLookAtWires};
    case Doubt::kJump:
      return {Phrase::kDoubtfulJump, Phrase::kDoubtfulLookAtWires,
              Phrase::kDoubtfulIsTouched};
    case Doubt::kStuck:
      return {Phrase::kDoubtfulStuck, Phrase::kDoubtfulSwitchOff};
    case Doubt::kSameSecond:
      return {Phrase::kDoubtfulSameSecond, Phrase::kDoubtfulTwoSensors};
    case Doubt::kFuture:
      return {Phrase::kDoubtfulFuture, Phrase::kDoubtfulClock};
    case Doubt::kTooOld:
      return {Phrase::kDoubtfulTooOld, Phrase::kDoubtfulClock};
    default:
      return {Phrase::kDoubtfulOther, Phrase::kDoubtfulLook};
  }
}

std::string count_text(const Wording& wording, const Doubts& doubts) {
  const bool all = doubts.doubtful == doubts.readings;
  return wording.say(all ? Phrase::kDoubtfulAllReadings : Phrase::kDoubtfulSomeReadings,
                     fmt::arg("doubtful", doubts.doubtful),
                     fmt::arg("readings", doubts.readings));
}

std::string what_it_means(const Situation& situation, const SensorView& view) {
  const Wording& wording = situation.wording;
  const bool is_known = is_air_known(situation, view, situation.now - kTrendSpan);
  return wording.say(
      is_known ? Phrase::kDoubtfulRestsOnOthers : Phrase::kDoubtfulRestsOnOld,
      fmt::arg("place", wording.place(view.place->name)));
}

std::string body_for(const Situation& situation, const SensorView& view,
                     Channel channel) {
  const Wording& wording = situation.wording;
  std::string body;
  for (const Phrase phrase : complaint_about(view.doubts)) {
    body +=
        wording.say(phrase, fmt::arg("sensor", view.sensor->id),
                    fmt::arg("readings", count_text(wording, view.doubts)),
                    fmt::arg("channel", wording.channel(channel)),
                    fmt::arg("value", wording.value_of(channel, view.doubts.last_said))) +
        " ";
  }
  return body + what_it_means(situation, view);
}

std::optional<Finding> finding_for(const Situation& situation, const SensorView& view) {
  const Doubts& doubts = view.doubts;
  if (view.being_checked || doubts.doubtful < kSome || !doubts.channel) {
    return std::nullopt;
  }
  const Wording& wording = situation.wording;
  Finding finding = finding_about(view, holds(doubts));
  finding.title = sentence(wording.say(
      Phrase::kDoubtfulTitle, fmt::arg("place", wording.place(view.place->name))));
  finding.body = body_for(situation, view, *doubts.channel);
  return finding;
}

}  // namespace

std::vector<Finding> find_doubtful(const Situation& situation) {
  return find_by_sensor(situation, &finding_for);
}

}  // namespace rimeward
