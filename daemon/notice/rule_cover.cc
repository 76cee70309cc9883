// `cover`: the odds of a harmful low are worth the walk to the fleece.
//
// Raised from mid-afternoon on, so that there is daylight left; or in the evening where
// the outlook has changed since, or the air falls faster than it had it, as long as
// people are up. What the night brings after that is `danger`'s.

#include <algorithm>
#include <cmath>
#include <utility>

#include <fmt/format.h>

#include "daemon/base/text.h"
#include "daemon/climate/cover.h"
#include "daemon/notice/rule.h"
#include "daemon/notice/words.h"
#include "daemon/store/outlook_rows.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;

// Covers go on while the place still holds the day's warmth: a cover keeps warmth, it
// does not make any (FAO Frost Protection vol. 1, 2005, ch. 6).
constexpr auto kBeforeSunset = 30min;
// An outlook that comes later than this before the deadline gives its own.
constexpr auto kShortestNotice = 15min;
constexpr auto kTimeToCover = 45min;
// After this nobody is sent out for a forecast.
constexpr auto kEveningEnds = 3h;
// An open notice stays until the odds have fallen to this part of what raised it.
constexpr double kLeaveAt = 0.5;
// What the readings since make of an outlook is told from here on, in whole steps.
constexpr Kelvins kWorthTelling{1.0};

// A place with something to protect, and what tonight holds for it.
struct Tonight {
  const Situation& situation;
  const PlaceView& view;
  const OutlookRow& row;  // the newest, as issued
  // The same held to the lowest reading since; or what the readings make of it, where the
  // fall outruns it so far that it is worth telling.
  Outlook outlook;
  bool outrun = false;
  Celsius keep_above;

  const Place& place() const { return *view.place; }
};

std::optional<Tonight> tonight_in(const Situation& situation, const PlaceView& view) {
  if (!view.keep_above || view.tonight.empty() || !view.course) return std::nullopt;
  const OutlookRow& row = view.tonight.back();
  if (situation.now >= row.sunrise) return std::nullopt;
  const Outlook& now = view.course->outlook;
  Tonight tonight{situation, view, row, outlook_of(row), false, *view.keep_above};
  tonight.outrun = row.low - now.low >= kWorthTelling;
  tonight.outlook = tonight.outrun ? now : held_to(tonight.outlook, now.running_low);
  return tonight;
}

// The odds of going below keep-above with `layers` on.
Odds odds_under(int layers, const Tonight& tonight) {
  if (layers == 0) return odds_below(tonight.outlook, tonight.keep_above);
  // What was measured so far was measured without these layers: it says nothing here.
  return odds_below(under(tonight.outlook, tonight.view.lifts->of(layers)),
                    tonight.keep_above);
}

// The fewest layers that bring the odds under the place's limit, or all that there are.
int layers_needed(const Tonight& tonight) {
  const Place& place = tonight.place();
  int layers = 1;
  while (layers < place.fleece_layers && odds_under(layers, tonight) >= place.act_at) {
    ++layers;
  }
  return std::min(layers, place.fleece_layers);
}

// By when to act, as the outlook is issued.
Instant first_deadline(const OutlookRow& row) {
  const Instant before_dusk = rounded_down(row.sunset - kBeforeSunset);
  if (row.issued_at + kShortestNotice <= before_dusk) return before_dusk;
  return rounded_up(row.issued_at + kTimeToCover);
}

// By when to act for one who is told now: never a time that has passed or hardly comes.
Instant deadline_for(const Tonight& tonight) {
  const Instant deadline = first_deadline(tonight.row);
  const Instant now = tonight.situation.now;
  if (now + kShortestNotice <= deadline) return deadline;
  return rounded_up(now + kTimeToCover);
}

std::string title_for(const PlaceView& view) {
  const std::string place = in_sentence(view.place->name);
  if (view.place->fleece_layers == 0) {
    return fmt::format("Shelter the plants in {} tonight", place);
  }
  if (view.cover_layers > 0) return fmt::format("Add fleece to {} tonight", place);
  return fmt::format("Fleece {} tonight", place);
}

std::string what_to_do(const Tonight& tonight, int layers) {
  if (tonight.place().fleece_layers == 0) {
    return "There is no fleece for this place: bring in what is tender.";
  }
  const int on_now = tonight.view.cover_layers;
  std::string words = fmt::format(
      "{}{}, on while it still holds the day's warmth.", sentence(layers_text(layers)),
      on_now > 0 ? fmt::format(" in all ({} on now)", on_now) : std::string{});
  if (odds_under(layers, tonight) >= tonight.place().act_at) {
    words += " That may not be enough: bring in what is tender.";
  }
  return words;
}

// What the outlook could not know, or rests on.
std::string grounds(const Tonight& tonight) {
  const OutlookRow& row = tonight.row;
  std::string words;
  if (!row.rests_on.empty()) {
    words =
        fmt::format(", by {} and how the two usually differ, for its sensor is silent",
                    in_sentence(place_name(tonight.situation, row.rests_on)));
  } else if (!row.humidity_known) {
    words = ", without a humidity reading";
  }
  if (row.opinion) {
    words += fmt::format(", with the {} that was forecast for the region in it",
                         text_of(*row.opinion, tonight.situation.units));
  }
  return words;
}

// In whole degrees, so that the words do not change with every reading.
std::string since_then(const Tonight& tonight) {
  if (!tonight.outrun) return "";
  return fmt::format(" It has cooled faster since: now about {} is expected.",
                     whole_text_of(tonight.outlook.low, tonight.situation.units));
}

// The numbers are those of the outlook as it was issued, so that the words change with it
// alone, but for the light that is needed from sunset on and a fall that outruns it.
std::string body_for(const Tonight& tonight, int layers) {
  const OutlookRow& row = tonight.row;
  const TemperatureUnit units = tonight.situation.units;
  std::string body = fmt::format(
      "{} Low {} expected, 8 nights in 10 from {} to {}; odds {} of going below {}.{} "
      "Outlook at {}{}; a forecast, not a promise.",
      what_to_do(tonight, layers), text_of(row.low, units), text_of(row.low10, units),
      text_of(row.low90, units), text_of(odds_below(outlook_of(row), tonight.keep_above)),
      text_of(tonight.keep_above, units), since_then(tonight),
      tonight.situation.zone.time_text(row.issued_at), grounds(tonight));
  if (tonight.situation.now >= row.sunset || first_deadline(row) > row.sunset) {
    body += " It will be dark: take a light, and mind ice underfoot.";
  }
  return body;
}

std::optional<Finding> finding_for(const Situation& situation, const PlaceView& view) {
  const auto found = tonight_in(situation, view);
  if (!found) return std::nullopt;
  const Tonight& tonight = *found;
  const OutlookRow& row = tonight.row;
  const Odds act_at = tonight.place().act_at;
  const Odds odds = odds_under(0, tonight);
  if (odds.value < act_at.value * kLeaveAt) return std::nullopt;
  const int layers = layers_needed(tonight);
  if (layers > 0 && tonight.view.cover_layers >= layers) return std::nullopt;

  Finding finding;
  finding.subject = finding.place = tonight.place().id;
  finding.holds = odds >= act_at && tonight.situation.now < row.sunset + kEveningEnds;
  // One more layer, or the odds doubled, is worth telling again.
  finding.urgency = 10.0 * layers + std::log2(odds.value / act_at.value);
  finding.layers = layers;
  finding.deadline = deadline_for(tonight);
  finding.send_until = row.sunset + kEveningEnds;
  finding.ends_at = row.sunrise;
  finding.title = title_for(tonight.view);
  finding.body = body_for(tonight, layers);
  return finding;
}

}  // namespace

std::vector<Finding> find_cover(const Situation& situation) {
  return find_by_place(situation, &finding_for);
}

}  // namespace rimeward
