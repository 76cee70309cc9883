#include "daemon/notice/hours_words.h"

#include <algorithm>
#include <chrono>

#include <fmt/format.h>

namespace rimeward {
namespace {

using namespace std::chrono_literals;

constexpr std::chrono::minutes kDayBegins = 7h;
constexpr std::chrono::minutes kDayEnds = 21h;
constexpr std::chrono::minutes kNoon = 12h;

}  // namespace

bool is_garden_time(const Situation& situation, const std::optional<NightSpan>& night) {
  const auto clock = situation.zone.minute_of_day(situation.now);
  const GardenerHours& hours = situation.hours;
  if (clock < hours.morning_from.value_or(kDayBegins)) return false;
  if (clock >= hours.evening_by.value_or(kDayEnds)) return false;
  return !night || situation.now < night->sunset || situation.now >= night->sunrise;
}

bool is_morning(const Situation& situation) {
  return situation.zone.minute_of_day(situation.now) < kNoon;
}

std::optional<Instant> newest_whole_hour(const PlaceView& view, Channel channel,
                                         Instant now) {
  if (view.hours == nullptr) return std::nullopt;
  const Instant last = std::chrono::floor<std::chrono::hours>(now) - 1h;
  for (Instant hour = last; hour > last - HourBook::kKept; hour -= 1h) {
    if (view.hours->is_measured(channel, hour)) return hour;
  }
  return std::nullopt;
}

const PlaceView* view_of(const Situation& situation, const Place* place) {
  const auto found = std::ranges::find(situation.places, place, &PlaceView::place);
  return found == situation.places.end() ? nullptr : &*found;
}

std::string hours_text(const Wording& wording, std::int64_t hours) {
  return wording.say(hours == 1 ? Phrase::kOneHour : Phrase::kManyHours,
                     fmt::arg("count", hours));
}

const PlaceView* free_air(const Situation& situation) {
  const auto found = std::ranges::find_if(situation.places, [](const PlaceView& view) {
    return view.place->kind == PlaceKind::kOutdoors && view.hours != nullptr &&
           view.hours->newest(Channel::kAirTemperature);
  });
  return found == situation.places.end() ? nullptr : &*found;
}

}  // namespace rimeward
