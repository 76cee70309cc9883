// `doubtful`: a sensor says so much that cannot be true that it wants looking at. What
// was doubted is left out of everything, so that without a word the place would go
// unwatched.

#include <fmt/format.h>

#include "daemon/base/text.h"
#include "daemon/climate/trend.h"
#include "daemon/notice/rule.h"
#include "daemon/notice/sensor_words.h"

namespace rimeward {
namespace {

// Of the newest Doubts::kMessages. One or two are a loose contact or a passing cloud of
// radio; a sensor that is stuck says nothing else any more.
constexpr int kMany = 4;
constexpr int kSome = 2;

bool holds(const Doubts& doubts) {
  return doubts.doubtful >= (doubts.mostly == Doubt::kStuck ? kSome : kMany);
}

// What is wrong, as it goes on after "5 of its last 12 readings", and what to do.
struct Complaint {
  std::string what;
  std::string remedy;
};

constexpr const char* kWires =
    "Look at its plug and wires, and for water in either: one is loose or broken.";
constexpr const char* kClock =
    "Its clock is wrong: set it, or let it send no time at all, and the time of arrival "
    "counts.";

Complaint complaint_about(const Doubts& doubts, TemperatureUnit units) {
  const std::string said =
      doubts.channel ? value_text(*doubts.channel, doubts.last_said, units) : "";
  const std::string channel = doubts.channel ? words_for(*doubts.channel) : "value";
  switch (doubts.mostly) {
    case Doubt::kRange:
      return {fmt::format("tell a {} that cannot be, such as {}", channel, said),
              "Look at its plug and wires, and whether the settings give its right type "
              "and unit."};
    case Doubt::kPowerOn:
      return {fmt::format("say {}, which a probe says that has just been switched on and "
                          "has not measured yet",
                          said),
              "Look at its plug, its wires and its power: something is loose, and it "
              "starts again and again."};
    case Doubt::kNotConnected:
      return {fmt::format("say {}, which stands for a probe that does not answer", said),
              kWires};
    case Doubt::kJump:
      return {
          fmt::format("are jumps in {} that nothing there can make", channel),
          std::string(kWires) + " Or it hangs where it is touched, sprayed or warmed."};
    case Doubt::kStuck:
      return {fmt::format("are stuck at {}, while it changed elsewhere", said),
              "Switch it off and on again; if it stays so, put in another."};
    case Doubt::kSameSecond:
      return {"say different things of one and the same second",
              "Look whether two sensors publish to its topic."};
    case Doubt::kFuture:
      return {"come from the future by its own clock", kClock};
    case Doubt::kTooOld:
      return {"are long past by its own clock", kClock};
    default:
      return {"cannot be believed", "Look at it, its plug and its wires."};
  }
}

std::string count_text(const Doubts& doubts) {
  return doubts.doubtful == doubts.readings
             ? fmt::format("All of its last {} readings", doubts.readings)
             : fmt::format("{} of its last {} readings", doubts.doubtful,
                           doubts.readings);
}

std::string what_it_means(const Situation& situation, const SensorView& view) {
  const std::string place = in_sentence(view.place->name);
  if (is_air_known(situation, view, situation.now - kTrendSpan)) {
    return fmt::format(
        "These count for nothing; what is said of {} rests on the other "
        "readings there.",
        place);
  }
  return fmt::format(
      "These count for nothing: what is said of {} rests on older "
      "readings, and no frost there will be noticed in the night.",
      place);
}

std::optional<Finding> finding_for(const Situation& situation, const SensorView& view) {
  const Doubts& doubts = view.doubts;
  if (view.being_checked || doubts.doubtful < kSome) return std::nullopt;
  const Complaint complaint = complaint_about(doubts, situation.units);
  Finding finding = finding_about(view, holds(doubts));
  finding.title =
      fmt::format("The sensor in {} cannot be believed", in_sentence(view.place->name));
  finding.body =
      fmt::format("{}: {} {}. {} {}", view.sensor->id, count_text(doubts), complaint.what,
                  complaint.remedy, what_it_means(situation, view));
  return finding;
}

}  // namespace

std::vector<Finding> find_doubtful(const Situation& situation) {
  return find_by_sensor(situation, &finding_for);
}

}  // namespace rimeward
