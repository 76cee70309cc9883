// `vent`: a glazed or covered place is about to get warmer than its plants like.
//
// Told ahead, for it is the opening in time that keeps a place cool: one that is opened
// when it has got too hot cools slowly, and its plants have been in it meanwhile (common
// practice, no source). The forecast is the place's own (daemon/climate/mornings.h). Once
// told, the notice stays until three hours after noon, whatever the clouds do: there is
// one a day and place, and one that is answered is told again only where the place gets
// far hotter than it should. Afterwards it is time to think of the night: `shut`.

#include <algorithm>
#include <string>

#include <fmt/format.h>

#include "daemon/climate/trend.h"
#include "daemon/notice/deadline.h"
#include "daemon/notice/rule.h"
#include "daemon/notice/trend_words.h"
#include "daemon/notice/words.h"

namespace rimeward {
namespace {

// This much above vent_above whoever was told is told again: it was not opened, or not
// wide enough.
constexpr Kelvins kFarTooHot{8};

// As the gardener wrote it down. One that stands open since an earlier day may have been
// shut for the night unsaid.
bool is_open_since_today(const Situation& situation, const PlaceView& view) {
  const Zone& zone = situation.zone;
  return view.opening && view.opening->open &&
         zone.local_date(view.opening->since) == zone.local_date(situation.now);
}

std::string title_for(const Situation& situation, const PlaceView& view, bool ahead) {
  Phrase title = ahead ? Phrase::kVentTitle : Phrase::kVentNowTitle;
  if (is_open_since_today(situation, view)) title = Phrase::kVentWiderTitle;
  const Wording& wording = situation.wording;
  return wording.say(title, fmt::arg("place", wording.place(view.place->name)));
}

std::string body_for(const Situation& situation, const PlaceView& view,
                     const TimedValue& newest, Instant crosses) {
  const Wording& wording = situation.wording;
  const Celsius vent = *view.place->vent_above;
  const Celsius air{newest.value};
  const Trend still{.at = newest.at, .air = air, .per_hour = {}};
  const Trend going = trend(view.recents->air, situation.now).value_or(still);
  const std::string reading = rising_text(wording, going);
  const std::string mark = wording.text_of(vent);
  if (air < vent) {
    return wording.say(Phrase::kVentAhead, fmt::arg("reading", reading),
                       fmt::arg("mark", mark),
                       fmt::arg("time", wording.time(rounded_down(crosses))));
  }
  const bool is_far = air - vent >= kFarTooHot;
  return wording.say(is_far ? Phrase::kVentFarAbove : Phrase::kVentThere,
                     fmt::arg("reading", reading), fmt::arg("mark", mark));
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
  const Kelvins above = Celsius{newest.value} - vent;
  if (is_open_since_today(situation, view) && above < kFarTooHot) return std::nullopt;

  Finding finding;
  finding.subject = finding.place = view.place->id;
  // A place that is too warm when the sun rises was so all night.
  finding.holds =
      !is_before_morning(situation) && (!there || situation.now >= day.sunrise + kUp);
  finding.urgency = std::max(above.degrees, 0.0) / kFarTooHot.degrees;
  const Instant deadline = rounded_down(*crosses);
  const bool ahead = deadline > situation.now;
  if (ahead) finding.deadline = deadline;
  finding.send_until = finding.ends_at = day.noon + kDayTurns;
  finding.title = title_for(situation, view, ahead);
  finding.body = body_for(situation, view, newest, *crosses);
  return finding;
}

}  // namespace

std::vector<Finding> find_vent(const Situation& situation) {
  if (!situation.day || situation.now < situation.day->sunrise ||
      situation.now >= situation.day->noon + kDayTurns) {
    return {};
  }
  return find_by_place(situation, &finding_for);
}

}  // namespace rimeward
