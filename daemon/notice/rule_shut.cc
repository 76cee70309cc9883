// `shut`: a place that was open for its warmth is cooling, and should go into the night
// with what the day has left in it.
//
// When to shut (common practice, no source): some degrees under the temperature at which
// it is opened, when the air is falling back to it in the afternoon, so that soil and
// walls keep the day's warmth; earlier, still warm, where the night may be too cold for
// what grows there; by sunset at the latest; and not at all on a night far milder than
// the plants need, which does better with the air let through. Where no opening was
// written down lately, a place counts as opened on a day that it came near its
// vent_above.
//
// Nothing before two fifths of the afternoon have passed: until then a place that is shut
// under a cloud is soon too hot again.

#include <algorithm>
#include <chrono>
#include <string>

#include <fmt/format.h>

#include "daemon/climate/trend.h"
#include "daemon/notice/rule.h"
#include "daemon/notice/trend_words.h"
#include "daemon/notice/words.h"
#include "daemon/store/outlook_rows.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;
using Hours = std::chrono::duration<double, std::ratio<3600>>;

constexpr double kAfternoonPassed = 0.4;  // of the time from noon to sunset
constexpr Kelvins kNearEnough{2};         // below vent_above: warm enough to be opened
constexpr Kelvins kUsually{4};            // below vent_above: shut here
constexpr Kelvins kBeforeCold{1};         // the same where tonight may be too cold
// A night that stays this far above keep-above is mild.
constexpr Kelvins kFarAbove{5};
constexpr auto kWarnAhead = 45min;
constexpr auto kAfterSunset = 1h;  // a notice ends: what warmth there was is gone
// A slower fall than this is within a cheap sensor's noise.
constexpr Kelvins kCooling{-0.2};

enum class NightAhead { kMild, kUsual, kCold };

NightAhead night_ahead(const PlaceView& view) {
  if (view.tonight.empty()) return NightAhead::kUsual;
  const Outlook outlook = outlook_of(view.tonight.back());
  const Odds act_at = view.place->act_at;
  if (odds_below(outlook, *view.keep_above) >= act_at) return NightAhead::kCold;
  if (odds_below(outlook, *view.keep_above + kFarAbove) >= act_at) {
    return NightAhead::kUsual;
  }
  return NightAhead::kMild;
}

// When the air falls to the mark; `now` where it is below, nothing while it does not
// fall.
std::optional<Instant> falls_to(const Trend& going, Celsius mark, Instant now) {
  if (going.air <= mark) return now;
  if (going.per_hour > kCooling) return std::nullopt;
  const Hours ahead{(going.air - mark).degrees / -going.per_hour.degrees};
  if (ahead > Hours{kWarnAhead}) return std::nullopt;
  return std::max(now, going.at + std::chrono::floor<std::chrono::seconds>(ahead));
}

bool was_warm(const PlaceView& view, const DaySpan& day, Instant now) {
  const Celsius warm = *view.place->vent_above - kNearEnough;
  return std::ranges::any_of(
      view.recents->air.between(day.sunrise, now),
      [warm](const TimedValue& reading) { return reading.value >= warm.degrees; });
}

// As the gardener wrote it down; where nothing was, as warm as it got.
bool stands_open(const PlaceView& view, const DaySpan& day, Instant now) {
  return view.opening ? view.opening->open : was_warm(view, day, now);
}

std::string title_for(const Situation& situation, const PlaceView& view, bool ahead) {
  const Wording& wording = situation.wording;
  return wording.say(ahead ? Phrase::kShutTitle : Phrase::kShutNowTitle,
                     fmt::arg("place", wording.place(view.place->name)));
}

std::string body_for(const Situation& situation, const PlaceView& view,
                     const Trend& going, Celsius mark, NightAhead night) {
  const Wording& wording = situation.wording;
  const std::string body =
      wording.say(going.air <= mark ? Phrase::kShutBelow : Phrase::kShutAhead,
                  fmt::arg("reading", falling_text(wording, going)),
                  fmt::arg("mark", wording.text_of(mark)),
                  fmt::arg("sunset", wording.time(situation.day->sunset)));
  if (night != NightAhead::kCold) return body;
  const OutlookRow& row = view.tonight.back();
  const Odds odds = odds_below(outlook_of(row), *view.keep_above);
  return body + " " +
         wording.say(Phrase::kShutCold, fmt::arg("odds", wording.text_of(odds)),
                     fmt::arg("mark", wording.text_of(*view.keep_above)),
                     fmt::arg("time", wording.time(row.issued_at)));
}

std::optional<Finding> finding_for(const Situation& situation, const PlaceView& view) {
  if (!view.place->vent_above || !view.keep_above) return std::nullopt;
  const DaySpan& day = *situation.day;
  const Instant now = situation.now;
  const auto going = trend(view.recents->air, now);
  if (!going) return std::nullopt;
  // Too warm still for any of the marks, and sunset is not near.
  const bool sunset_near = now + kWarnAhead >= day.sunset;
  const Celsius warmest_mark = *view.place->vent_above - kBeforeCold;
  if (!sunset_near && !falls_to(*going, warmest_mark, now)) return std::nullopt;
  const NightAhead night = night_ahead(view);
  if (night == NightAhead::kMild || !stands_open(view, day, now)) return std::nullopt;
  const Celsius mark =
      *view.place->vent_above - (night == NightAhead::kCold ? kBeforeCold : kUsually);
  const auto falls = falls_to(*going, mark, now);
  if (!falls && !sunset_near) return std::nullopt;

  Finding finding;
  finding.subject = finding.place = view.place->id;
  finding.holds = true;
  const Instant deadline = rounded_down(std::min(falls.value_or(day.sunset), day.sunset));
  const bool ahead = deadline > now;
  if (ahead) finding.deadline = deadline;
  finding.send_until = finding.ends_at = day.sunset + kAfterSunset;
  finding.title = title_for(situation, view, ahead);
  finding.body = body_for(situation, view, *going, mark, night);
  return finding;
}

}  // namespace

std::vector<Finding> find_shut(const Situation& situation) {
  if (!situation.day) return {};
  const DaySpan& day = *situation.day;
  const Instant from = day.noon + std::chrono::floor<std::chrono::seconds>(
                                      kAfternoonPassed * (day.sunset - day.noon));
  if (situation.now < from || situation.now >= day.sunset + kAfterSunset) return {};
  return find_by_place(situation, &finding_for);
}

}  // namespace rimeward
