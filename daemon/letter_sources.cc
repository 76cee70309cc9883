#include "daemon/letter_sources.h"

#include <algorithm>

#include "daemon/letter_tables.h"
#include "daemon/notice/notice_text.h"

namespace rimeward {
namespace {

// How far back the store is asked for notices: more than a week brings.
constexpr std::size_t kLookedThrough = 500;

bool has_air(const LetterSources& from, const std::vector<SeriesRow>& all,
             const Place& place) {
  bool is_known = false;
  for (const SeriesRow& row : all) {
    if (row.place != place.id) continue;
    if (row.channel == Channel::kAirTemperature) return true;
    is_known = true;
  }
  return !is_known && std::ranges::any_of(from.garden.sensors, [&](const Sensor& sensor) {
    return sensor.place == place.id && !is_forecast(sensor);
  });
}

bool was_open(const NoticeRow& notice, Instant at) {
  if (notice.state == NoticeState::kTold || notice.raised_at > at) return false;
  return !notice.closed_at || *notice.closed_at > at;
}

bool is_of_batch(const NoticeRow& notice) {
  return notice.kind == "due" || notice.kind == "move";
}

// A deadline of another day says which.
std::string headline(const LetterSources& from, const NoticeRow& notice) {
  if (!notice.deadline) return notice.title;
  const bool is_past = *notice.deadline < from.at;
  const bool is_today =
      from.zone.local_date(*notice.deadline) == from.zone.local_date(from.at);
  if (!is_past && is_today) return notice_headline(notice, from.wording);
  return from.wording.say(is_past ? Phrase::kLetterWasDueBy : Phrase::kLetterDueBy,
                          fmt::arg("title", notice.title),
                          fmt::arg("when", from.wording.day_and_time(*notice.deadline)));
}

void add_list(std::vector<std::string>& paragraphs, std::string heading,
              const std::vector<std::string>& items) {
  if (items.empty()) return;
  paragraphs.push_back(std::move(heading));
  paragraphs.push_back(list_text(items));
}

}  // namespace

std::vector<const Place*> places_with_air(const LetterSources& from) {
  const std::vector<SeriesRow> all = from.store.all_series();
  std::vector<const Place*> places;
  for (const Place& place : from.garden.places) {
    if (has_air(from, all, place)) places.push_back(&place);
  }
  return places;
}

std::string degrees_text(Celsius air, const Wording& wording) {
  const bool celsius = wording.unit() == TemperatureUnit::kCelsius;
  return wording.number(celsius ? air.degrees : in_fahrenheit(air), 1);
}

std::string unit_text(const Wording& wording) {
  return wording.unit() == TemperatureUnit::kCelsius ? "°C" : "°F";
}

std::vector<std::string> open_matters(const LetterSources& from) {
  std::vector<NoticeRow> notices = from.store.latest_notices(kLookedThrough);
  std::ranges::reverse(notices);
  std::vector<std::string> to_do;
  std::vector<std::string> due;
  for (const NoticeRow& notice : notices) {
    if (!was_open(notice, from.at)) continue;
    (is_of_batch(notice) ? due : to_do).push_back(headline(from, notice));
  }
  std::vector<std::string> paragraphs;
  if (to_do.empty() && due.empty()) {
    return {from.wording.say(Phrase::kLetterNothingOpen)};
  }
  add_list(paragraphs, from.wording.say(Phrase::kLetterOpen), to_do);
  add_list(paragraphs, from.wording.say(Phrase::kLetterDueSoon), due);
  return paragraphs;
}

}  // namespace rimeward
