// `blight`: two days running were as warm and damp as potato blight (Phytophthora
// infestans) needs, by the Hutton criteria; tomatoes catch it too.
//
// The shipped limits (daemon/base/garden.h, BlightLimits) are those of the criteria: AHDB
// project 11120018, James Hutton Institute, 2014 to 2017. The papers seen do not say when
// a day begins. Here it is 09:00 by the garden's clock: the older rule of Smith (1956)
// went by days from 09 to 09 (from memory), no night is cut in two by it, and a period is
// complete when there is somebody to be told.
//
// The criteria were made for open ground. A covered place is judged by its own air, and
// only where the plants are known to grow in it; of the open ground one kind of place
// speaks for all: where they grow, else outdoors, else beds.

#include <algorithm>
#include <chrono>
#include <utility>

#include <fmt/format.h>

#include "daemon/climate/wetness.h"
#include "daemon/notice/hours_words.h"
#include "daemon/notice/rule.h"
#include "daemon/notice/words.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;
using std::chrono::days;
using std::chrono::sys_days;

constexpr std::chrono::minutes kDayBegins = 9h;
// An open notice stays while the newest two days are nearly such.
constexpr Kelvins kLeaveBelow{0.5};
constexpr std::chrono::hours kLeaveHours{1};

bool is_potato(const BatchView& batch) {
  return batch.crop->id == "potato";
}

bool is_tomato(const BatchView& batch) {
  return batch.crop->id == "tomato";
}

bool is_host(const BatchView& batch) {
  return is_potato(batch) || is_tomato(batch);
}

bool has_hosts(const Situation& situation, const Place* place) {
  return std::ranges::any_of(situation.batches, [&](const BatchView& batch) {
    return batch.place == place && is_host(batch);
  });
}

bool is_measured(const PlaceView& view) {
  return view.hours != nullptr && view.hours->newest(Channel::kHumidity) &&
         view.hours->newest(Channel::kAirTemperature);
}

// How much an open place has to say of the open ground; the lowest speaks.
int rank_of(const Situation& situation, const PlaceView& view) {
  if (has_hosts(situation, view.place)) return 0;
  return view.place->kind == PlaceKind::kOutdoors ? 1 : 2;
}

bool is_watched(const Situation& situation, const PlaceView& view) {
  if (!is_measured(view)) return false;
  if (is_covered(view.place->kind)) return has_hosts(situation, view.place);
  const bool is_listed = !situation.batches.empty();
  if (is_listed && std::ranges::none_of(situation.batches, is_host)) return false;
  const int rank = rank_of(situation, view);
  return std::ranges::none_of(situation.places, [&](const PlaceView& other) {
    return !is_covered(other.place->kind) && is_measured(other) &&
           rank_of(situation, other) < rank;
  });
}

// A day's blight weather. The low is that of the hourly means, or a night's measured one
// where that is lower. Nothing where hours are not known, and after a night that is too
// cold by itself: most are, and need no look at the hours.
std::optional<BlightDay> day_of(const Situation& situation, const PlaceView& view,
                                sys_days date, const BlightLimits& limits) {
  const Instant begins = situation.zone.at(date, kDayBegins);
  const Instant ends = situation.zone.at(date + days{1}, kDayBegins);
  std::optional<Celsius> measured;
  for (const NightRow& night : view.nights) {
    if (!night.low || !night.low_at) continue;
    if (*night.low_at < begins || *night.low_at >= ends) continue;
    measured = std::min(measured.value_or(*night.low), *night.low);
  }
  if (measured && *measured < limits.low) return std::nullopt;
  auto day = blight_day(*view.hours, begins, ends, limits.humidity);
  if (day && measured) day->low = std::min(day->low, *measured);
  return day;
}

// The date of the newest day that is over.
sys_days newest_day(const Situation& situation) {
  const sys_days today{situation.zone.local_date(situation.now)};
  const bool has_begun = situation.now >= situation.zone.at(today, kDayBegins);
  return today - days{has_begun ? 1 : 2};
}

BlightLimits relaxed(BlightLimits limits) {
  limits.low = limits.low - kLeaveBelow;
  limits.for_hours -= kLeaveHours;
  return limits;
}

// Of those that grow in the garden; of both where neither is in the list.
Phrase title_for(const Situation& situation) {
  const bool potatoes = std::ranges::any_of(situation.batches, is_potato);
  const bool tomatoes = std::ranges::any_of(situation.batches, is_tomato);
  if (potatoes == tomatoes) return Phrase::kBlightTitle;
  return potatoes ? Phrase::kBlightPotatoesTitle : Phrase::kBlightTomatoesTitle;
}

std::string day_text(const Situation& situation, sys_days date, const BlightDay& day) {
  const Wording& wording = situation.wording;
  const Instant begins = situation.zone.at(date, kDayBegins);
  return wording.say(Phrase::kBlightDay, fmt::arg("when", wording.day_and_time(begins)),
                     fmt::arg("low", wording.text_of(day.low)),
                     fmt::arg("hours", hours_text(wording, day.damp_hours)));
}

std::string body_for(const Situation& situation, const Place& place,
                     const std::string& first, const std::string& second) {
  const Wording& wording = situation.wording;
  const BlightLimits& limits = situation.advice.blight;
  std::string body =
      wording.say(Phrase::kBlightDays, fmt::arg("place", wording.place(place.name)),
                  fmt::arg("first", first), fmt::arg("second", second),
                  fmt::arg("humidity", wording.number(limits.humidity.percent, 0)),
                  fmt::arg("low", wording.text_of(limits.low)),
                  fmt::arg("hours", hours_text(wording, limits.for_hours.count())));
  body = sentence(body) + " " + wording.say(Phrase::kBlightAdvice);
  if (is_covered(place.kind)) body += " " + wording.say(Phrase::kBlightUnderCover);
  return body;
}

std::optional<Finding> finding_for(const Situation& situation, const PlaceView& view) {
  if (!is_watched(situation, view)) return std::nullopt;
  const BlightLimits& limits = situation.advice.blight;
  const sys_days newest = newest_day(situation);
  const auto second = day_of(situation, view, newest, relaxed(limits));
  if (!second) return std::nullopt;
  const auto first = day_of(situation, view, newest - days{1}, relaxed(limits));
  if (!is_blight_period(first, second, relaxed(limits))) return std::nullopt;

  Finding finding;
  finding.subject = finding.place = view.place->id;
  finding.holds =
      is_blight_period(first, second, limits) && is_garden_time(situation, view.night);
  finding.title = situation.wording.say(title_for(situation));
  finding.body =
      body_for(situation, *view.place, day_text(situation, newest - days{1}, *first),
               day_text(situation, newest, *second));
  return finding;
}

}  // namespace

std::vector<Finding> find_blight(const Situation& situation) {
  return find_by_place(situation, &finding_for);
}

}  // namespace rimeward
