// `danger`: at night, measured cooling takes a place below its keep-above, and nobody was
// asked for it, or what was done does not hold. The one notice that may wake people.

#include <algorithm>
#include <cmath>
#include <string>

#include <fmt/format.h>

#include "daemon/climate/cover.h"
#include "daemon/climate/trend.h"
#include "daemon/notice/rule.h"
#include "daemon/notice/trend_words.h"
#include "daemon/notice/words.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;
using Hours = std::chrono::duration<double, std::ratio<3600>>;

constexpr auto kWarnAhead = 90min;
constexpr auto kLeaveAhead = 150min;
constexpr Odds kHardlyPossible{0.1};
constexpr auto kNearlyThere = 30min;
constexpr Kelvins kClear{1.0};
// A slower fall than this is within a cheap sensor's noise.
constexpr Kelvins kCooling{-0.2};
// Older readings say nothing of the next hour and a half.
constexpr auto kFresh = 75min;
// An hour earlier by this much, and passing the mark, are each worth telling again.
constexpr Hours kEarlier{0.75};
constexpr double kPassed = 10.0;
// The square root has no slope to speak of at sunset itself.
constexpr Hours kFirstHours{0.5};
constexpr Hours kNight{24};

// How the place's air is going; or, its sensor silent, that of the place which stands in
// for it, brought over by what the two usually differ.
struct Going {
  Trend trend;
  const StandIn* by = nullptr;
};

std::optional<Going> going_in(const Situation& situation, const PlaceView& view) {
  if (const auto own = trend(view.recents->air, situation.now, kFresh))
    return Going{*own};
  if (!view.stand_in) return std::nullopt;
  auto theirs = trend(view.stand_in->recents->air, situation.now, kFresh);
  if (!theirs) return std::nullopt;
  theirs->air = theirs->air + view.stand_in->warmer;
  return Going{*theirs, &*view.stand_in};
}

// When the place will pass the mark: the newest reading's time when it is below already,
// nothing while it is not falling.
//
// Air cools with the square root of the time since sunset (FAO Frost Protection vol. 1,
// 2005, ch. 5), so the last hour's fall does not go on as a straight line: early in the
// night one would cry wolf.
std::optional<Instant> crossing(const Trend& trend, Celsius mark, Instant sunset) {
  if (trend.air <= mark) return trend.at;
  if (trend.per_hour > kCooling) return std::nullopt;
  const double since_sunset = std::max(Hours(trend.at - sunset), kFirstHours).count();
  const double root = std::sqrt(since_sunset) +
                      (trend.air - mark).degrees /
                          (-trend.per_hour.degrees * 2 * std::sqrt(since_sunset));
  const Hours ahead{root * root - since_sunset};
  if (ahead > kNight) return std::nullopt;
  return trend.at + std::chrono::floor<std::chrono::seconds>(ahead);
}

// True when the gardener was told of this in the evening and the night is no worse than
// they were told: then the choice was theirs, and nobody is woken.
bool was_told(const PlaceView& view, Celsius air, Instant now) {
  const NoticeRow* told = view.cover_notice;
  // One that reached nobody does not count, nor does any where a cover is on and fails.
  if (told == nullptr || view.cover_layers > 0) return false;
  if (!has_reached_people(*told, now)) return false;
  return std::ranges::any_of(view.tonight, [&](const OutlookRow& row) {
    return row.issued_at <= told->spoke_at && air >= row.low10;
  });
}

// How far ahead a crossing is believed: what the newest outlook holds for hardly possible
// must be nearly there before anybody is woken for it.
std::chrono::minutes warn_ahead(const PlaceView& view, Celsius mark) {
  if (!view.course) return kWarnAhead;
  const Outlook covered =
      view.cover_layers == 0
          ? view.course->outlook
          : under(view.course->outlook, view.lifts->of(view.cover_layers));
  return odds_below(covered, mark) < kHardlyPossible ? kNearlyThere : kWarnAhead;
}

std::string title_for(const Situation& situation, const PlaceView& view) {
  Phrase title = Phrase::kDangerShelterTitle;
  if (view.place->fleece_layers > view.cover_layers) {
    title = view.cover_layers == 0 ? Phrase::kDangerTitle : Phrase::kDangerMoreTitle;
  }
  const Wording& wording = situation.wording;
  return wording.say(title, fmt::arg("place", wording.place(view.place->name)));
}

std::string going_text(const Wording& wording, const Going& going) {
  const std::string reading = falling_text(wording, going.trend);
  if (going.by == nullptr) return reading;
  return wording.say(Phrase::kDangerByOther,
                     fmt::arg("place", wording.place(going.by->place->name)),
                     fmt::arg("reading", reading));
}

std::string what_comes(const Situation& situation, Celsius keep_above, const Going& going,
                       Instant crosses) {
  const Wording& wording = situation.wording;
  const std::string reading = going_text(wording, going);
  const std::string mark = wording.text_of(keep_above);
  if (going.trend.air > keep_above && crosses > situation.now) {
    return wording.say(Phrase::kDangerAhead, fmt::arg("reading", reading),
                       fmt::arg("mark", mark),
                       fmt::arg("span", wording.span(crosses - situation.now)),
                       fmt::arg("time", wording.time(crosses)));
  }
  const bool is_below = going.trend.air <= keep_above;
  return wording.say(is_below ? Phrase::kDangerBelow : Phrase::kDangerByNow,
                     fmt::arg("reading", reading), fmt::arg("mark", mark));
}

std::string body_for(const Situation& situation, const PlaceView& view,
                     Celsius keep_above, const Going& going, Instant crosses) {
  const Wording& wording = situation.wording;
  std::string body = what_comes(situation, keep_above, going, crosses);
  if (view.opening && view.opening->open) body += " " + wording.say(Phrase::kShutFirst);
  if (view.cover_layers > 0) {
    const std::string layers = wording.layers(view.cover_layers);
    body += " " + sentence(wording.say(Phrase::kLayersOn, fmt::arg("layers", layers)));
  }
  if (!view.tonight.empty()) {
    const OutlookRow& row = view.tonight.back();
    body += " " + wording.say(Phrase::kDangerOutlook,
                              fmt::arg("time", wording.time(row.issued_at)),
                              fmt::arg("low", wording.text_of(row.low)));
  }
  return body + " " + wording.say(Phrase::kDangerCare);
}

std::optional<Finding> finding_for(const Situation& situation, const PlaceView& view) {
  if (!view.keep_above || !view.night) return std::nullopt;
  const NightSpan& night = *view.night;
  if (situation.now < night.sunset || situation.now >= night.sunrise) return std::nullopt;
  const auto found = going_in(situation, view);
  if (!found) return std::nullopt;
  const Trend* going = &found->trend;
  const Celsius mark = *view.keep_above;
  const auto crosses = crossing(*going, mark, night.sunset);
  const bool soon = crosses && *crosses <= situation.now + kLeaveAhead;
  if (!soon && going->air >= mark + kClear) return std::nullopt;

  Finding finding;
  finding.subject = finding.place = view.place->id;
  finding.holds = crosses && *crosses <= situation.now + warn_ahead(view, mark) &&
                  *crosses < night.sunrise && !was_told(view, going->air, situation.now);
  const Instant when = crosses.value_or(night.sunrise);
  finding.urgency =
      -(Hours(when - night.sunset) / kEarlier) + (going->air <= mark ? kPassed : 0.0);
  if (view.place->fleece_layers > view.cover_layers) {
    finding.layers = view.cover_layers + 1;
  }
  if (rounded_down(when) > situation.now) finding.deadline = rounded_down(when);
  finding.send_until = finding.ends_at = night.sunrise;
  finding.title = title_for(situation, view);
  finding.body = body_for(situation, view, mark, *found, when);
  return finding;
}

}  // namespace

std::vector<Finding> find_danger(const Situation& situation) {
  return find_by_place(situation, &finding_for);
}

}  // namespace rimeward
