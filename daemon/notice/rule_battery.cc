// `battery`: a sensor's cells are nearly empty. Told in good time, for the sensor dies in
// the first cold night, when it is wanted most.

#include <chrono>

#include <fmt/format.h>

#include "daemon/notice/rule.h"
#include "daemon/notice/sensor_words.h"
#include "daemon/notice/words.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;

// At which fresh cells are asked for, and how far above it the matter is gone.
struct Limit {
  double low;
  double leave_above;
};

constexpr double kLowPercent = 15;
constexpr double kPercentMore = 10;
// Of cells of about 3 V; common practice, no source.
constexpr double kLowVolts = 2.4;
constexpr double kVoltsMore = 0.1;
// No sensor runs on 3 V cells that have fallen below this: it has others, of which
// nothing is known without battery_low.
constexpr double kNoSuchCells = 1.8;
// What was said before that tells nothing of the cells that are in it now.
constexpr std::chrono::seconds kFresh = 48h;

std::optional<Limit> limit_of(const SensorView& view) {
  const auto& own = view.sensor->battery_low;
  if (view.battery->channel == Channel::kBatteryPercent) {
    const double low = own.value_or(kLowPercent);
    return Limit{low, low + kPercentMore};
  }
  if (!own && view.battery->value < kNoSuchCells) return std::nullopt;
  const double low = own.value_or(kLowVolts);
  return Limit{low, low + kVoltsMore};
}

std::string body_for(const Wording& wording, const SensorView& view, double low) {
  const Battery& battery = *view.battery;
  const std::string said =
      wording.say(Phrase::kBatterySaid, fmt::arg("sensor", view.sensor->id),
                  fmt::arg("value", wording.value_of(battery.channel, battery.value)),
                  fmt::arg("when", wording.day_and_time(battery.at)),
                  fmt::arg("low", wording.value_of(battery.channel, low)));
  if (view.sensor->battery_low) return said;
  return said + " " + wording.say(Phrase::kBatteryOtherCells);
}

std::optional<Finding> finding_for(const Situation& situation, const SensorView& view) {
  if (view.being_checked || !view.battery) return std::nullopt;
  if (situation.now - view.battery->at > kFresh) return std::nullopt;
  const auto limit = limit_of(view);
  if (!limit || view.battery->value > limit->leave_above) return std::nullopt;
  Finding finding = finding_about(view, view.battery->value <= limit->low);
  const Wording& wording = situation.wording;
  finding.title = sentence(wording.say(
      Phrase::kBatteryTitle, fmt::arg("place", wording.place(view.place->name))));
  finding.body = body_for(wording, view, limit->low);
  return finding;
}

}  // namespace

std::vector<Finding> find_battery(const Situation& situation) {
  return find_by_sensor(situation, &finding_for);
}

}  // namespace rimeward
