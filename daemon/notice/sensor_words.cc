#include "daemon/notice/sensor_words.h"

#include <algorithm>
#include <utility>

#include <fmt/format.h>

namespace rimeward {

std::string value_text(Channel channel, double value, TemperatureUnit units) {
  if (is_temperature(channel) && units == TemperatureUnit::kFahrenheit) {
    return fmt::format("{:.6g} °F", in_fahrenheit(Celsius{value}));
  }
  return fmt::format("{:.6g} {}", value, traits(channel).unit);
}

std::string words_for(Channel channel) {
  std::string words(traits(channel).name);
  std::ranges::replace(words, '_', ' ');
  return words;
}

Finding finding_about(const SensorView& view, bool holds) {
  Finding finding;
  finding.subject = view.sensor->id;
  finding.place = view.place->id;
  finding.holds = holds;
  return finding;
}

bool is_air_known(const Situation& situation, const SensorView& view, Instant at) {
  const PlaceView* place = view_of(situation, view.place->id);
  if (place == nullptr) return false;
  const auto air = place->recents->air.values();
  return !air.empty() && air.back().at > at;
}

}  // namespace rimeward
