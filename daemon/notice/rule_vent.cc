// `vent`: a glazed or covered place is about to get warmer than its plants like.
//
// Told ahead, for it is the opening in time that keeps a place cool: one that is opened
// when it has got too hot cools slowly, and its plants have been in it meanwhile (common
// practice, no source). The forecast is the place's own (daemon/climate/mornings.h). Once
// told, the notice stays until three hours after noon, whatever the clouds do: there is
// one a day and place, and one that is answered is told again only where the place gets
// far hotter than it should. Afterwards it is time to think of the night: `shut`.

#include <algorithm>
#include <chrono>

#include <fmt/format.h>

#include "daemon/base/text.h"
#include "daemon/climate/trend.h"
#include "daemon/notice/rule.h"
#include "daemon/notice/words.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;

constexpr auto kEnds = 3h;  // after solar noon
// A place that is too warm when the sun rises was so all night: nobody is called out of
// bed for it.
constexpr auto kUp = 1h;
// This much above vent_above whoever was told is told again: it was not opened, or not
// wide enough.
constexpr Kelvins kFarTooHot{8};

std::string what_is_expected(const Situation& situation, Celsius vent, Celsius air,
                             Instant crosses) {
  const std::string mark = text_of(vent, situation.units);
  if (air - vent >= kFarTooHot) {
    return fmt::format(
        ": far above the {} to open at. If it is open, open it wider, and shade it.",
        mark);
  }
  if (air >= vent) return fmt::format(": at or above the {} to open at.", mark);
  return fmt::format(
      ": it is likely to pass {} near {}, by its trend and its past mornings; a "
      "forecast, not a promise.",
      mark, situation.zone.time_text(rounded_down(crosses)));
}

std::string body_for(const Situation& situation, const PlaceView& view, Celsius vent,
                     const TimedValue& newest, Instant crosses) {
  const Celsius air{newest.value};
  std::string body = fmt::format("{} at {}", text_of(air, situation.units),
                                 situation.zone.time_text(newest.at));
  const auto going = trend(view.recents->air, situation.now);
  if (going && going->per_hour > Kelvins{0}) {
    body += fmt::format(", rising {} an hour", text_of(going->per_hour, situation.units));
  }
  return body + what_is_expected(situation, vent, air, crosses);
}

std::optional<Finding> finding_for(const Situation& situation, const PlaceView& view) {
  if (!view.place->vent_above || view.mornings == nullptr || !situation.day) {
    return std::nullopt;
  }
  const DaySpan& day = *situation.day;
  const Celsius vent = *view.place->vent_above;
  const Series& air = view.recents->air;
  const auto crosses =
      view.mornings->crossing(air, day.sunrise, day.noon, situation.now, vent);
  if (!crosses) return std::nullopt;
  // There is one, or there were no crossing.
  const TimedValue newest = air.until(situation.now).back();
  const bool there = newest.value >= vent.degrees;

  Finding finding;
  finding.subject = finding.place = view.place->id;
  finding.holds = !there || situation.now >= day.sunrise + kUp;
  finding.urgency =
      std::max((Celsius{newest.value} - vent).degrees, 0.0) / kFarTooHot.degrees;
  const Instant deadline = rounded_down(*crosses);
  const bool ahead = deadline > situation.now;
  if (ahead) finding.deadline = deadline;
  finding.send_until = finding.ends_at = day.noon + kEnds;
  finding.title =
      fmt::format("Open {}{}", in_sentence(view.place->name), ahead ? "" : " now");
  finding.body = body_for(situation, view, vent, newest, *crosses);
  return finding;
}

}  // namespace

std::vector<Finding> find_vent(const Situation& situation) {
  if (!situation.day || situation.now < situation.day->sunrise ||
      situation.now >= situation.day->noon + kEnds) {
    return {};
  }
  return find_by_place(situation, &finding_for);
}

}  // namespace rimeward
