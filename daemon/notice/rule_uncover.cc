// `uncover`: the cold has passed, and a cover is still on.
//
// Warm sun under fleece scorches what grows beneath it, and leaves want light and air by
// day (common practice, no source). Told once the place has come well above what its
// plants must keep above and goes on rising: from an hour after sunrise, so that what
// rises is the day, and not before the gardener is ready in the morning. A day that never
// gets so warm says nothing. Its readings may be from beneath the cover: that is where
// the plants are.
//
// It ends three hours after solar noon. By then the warmest of the day is over, and a
// cover that is on may be meant for the night: the afternoon's outlook speaks of that.

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

// Above keep-above. An open notice outlives a cloud that takes the place a little lower.
constexpr Kelvins kPassed{3};
constexpr Kelvins kLeaveAt{2};
// A slower rise in an hour than this is within a cheap sensor's noise.
constexpr Kelvins kWarming{0.2};

// The first of the newest readings of the day that are all at the mark or above it.
Instant above_since(const Series& air, const DaySpan& day, const Trend& going,
                    Celsius mark) {
  const auto readings = air.between(day.sunrise, going.at);
  Instant since = going.at;
  for (auto one = readings.rbegin(); one != readings.rend(); ++one) {
    if (one->value < mark.degrees) break;
    since = one->at;
  }
  return since;
}

std::string body_for(const Situation& situation, const PlaceView& view,
                     const Trend& going) {
  const Wording& wording = situation.wording;
  const Celsius mark = *view.keep_above + kPassed;
  const Instant since = above_since(view.recents->air, *situation.day, going, mark);
  const std::string passed = wording.say(
      Phrase::kUncoverPassed, fmt::arg("reading", rising_text(wording, going)),
      fmt::arg("mark", wording.text_of(mark)), fmt::arg("since", wording.time(since)),
      fmt::arg("keep_above", wording.text_of(*view.keep_above)));
  const std::string layers = wording.layers(view.cover_layers);
  const std::string on =
      sentence(wording.say(Phrase::kLayersOn, fmt::arg("layers", layers)));
  return passed + " " + on + " " + wording.say(Phrase::kUncoverScorches);
}

std::optional<Finding> finding_for(const Situation& situation, const PlaceView& view) {
  if (view.cover_layers == 0 || !view.keep_above) return std::nullopt;
  const auto going = trend(view.recents->air, situation.now);
  if (!going || going->air < *view.keep_above + kLeaveAt) return std::nullopt;

  Finding finding;
  finding.subject = finding.place = view.place->id;
  finding.holds = going->air >= *view.keep_above + kPassed &&
                  going->per_hour > kWarming && !is_before_morning(situation);
  finding.send_until = finding.ends_at = situation.day->noon + kDayTurns;
  const Wording& wording = situation.wording;
  finding.title = wording.say(Phrase::kUncoverTitle,
                              fmt::arg("place", wording.place(view.place->name)));
  finding.body = body_for(situation, view, *going);
  return finding;
}

}  // namespace

std::vector<Finding> find_uncover(const Situation& situation) {
  if (!situation.day || situation.now < situation.day->sunrise + kUp ||
      situation.now >= situation.day->noon + kDayTurns) {
    return {};
  }
  return find_by_place(situation, &finding_for);
}

}  // namespace rimeward
