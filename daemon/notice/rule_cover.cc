// `cover`: the odds of a harmful low are worth the walk to the fleece.
//
// Raised from mid-afternoon on, so that there is daylight left; or in the evening where
// the outlook has changed since, or the air falls faster than it had it, as long as
// people are up. What the night brings after that is `danger`'s.

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <string>
#include <string_view>

#include <fmt/format.h>

#include "daemon/climate/cover.h"
#include "daemon/notice/deadline.h"
#include "daemon/notice/rule.h"
#include "daemon/notice/words.h"
#include "daemon/store/outlook_rows.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;

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

// By when to act, and why then. By the course as it was issued, so that it stands through
// the readings, or where the fall outran that, by the one that they make of it.
CoverDeadline deadline_for(const Tonight& tonight) {
  const OutlookRow& row = tonight.row;
  const Situation& situation = tonight.situation;
  const NightCourse course =
      tonight.outrun ? *tonight.view.course : course_of(row, std::nullopt);
  CoverLimits limits{.sunset = row.sunset,
                     .warmth_gone = warmth_gone(course, tonight.keep_above)};
  if (const auto done = situation.hours.evening_by) {
    limits.evening_by = situation.zone.at(situation.zone.local_date(row.sunset), *done);
  }
  return cover_deadline(limits, row.issued_at, situation.now);
}

std::string title_for(const Tonight& tonight) {
  const Wording& wording = tonight.situation.wording;
  Phrase title = Phrase::kCoverTitle;
  if (tonight.view.cover_layers > 0) title = Phrase::kCoverMoreTitle;
  if (tonight.place().fleece_layers == 0) title = Phrase::kCoverShelterTitle;
  return wording.say(title, fmt::arg("place", wording.place(tonight.place().name)));
}

Phrase phrase_of(CoverReason reason) {
  switch (reason) {
    case CoverReason::kDark:
      return Phrase::kCoverBeforeDark;
    case CoverReason::kEvening:
      return Phrase::kCoverBeforeDone;
    case CoverReason::kWarmth:
      return Phrase::kCoverBeforeCold;
    case CoverReason::kLate:
      return Phrase::kCoverLate;
  }
  std::abort();
}

std::string layers_to_put_on(const Tonight& tonight, int layers, CoverReason reason) {
  const Wording& wording = tonight.situation.wording;
  const int on_now = tonight.view.cover_layers;
  const Phrase phrase = on_now > 0 ? Phrase::kCoverLayersInAll : Phrase::kCoverLayers;
  return sentence(wording.say(phrase, fmt::arg("layers", wording.layers(layers)),
                              fmt::arg("on", on_now),
                              fmt::arg("when", wording.say(phrase_of(reason)))));
}

std::string what_to_do(const Tonight& tonight, int layers, CoverReason reason) {
  const Wording& wording = tonight.situation.wording;
  const auto& opening = tonight.view.opening;
  std::string words;
  if (opening && opening->open) words = wording.say(Phrase::kShutFirst) + " ";
  if (tonight.place().fleece_layers == 0) {
    return words + wording.say(Phrase::kCoverNoFleece);
  }
  words += layers_to_put_on(tonight, layers, reason);
  if (odds_under(layers, tonight) >= tonight.place().act_at) {
    words += " " + wording.say(Phrase::kCoverNotEnough);
  }
  return words;
}

// What the outlook could not know, or rests on.
std::string grounds(const Tonight& tonight) {
  const OutlookRow& row = tonight.row;
  const Wording& wording = tonight.situation.wording;
  std::string words;
  if (!row.rests_on.empty()) {
    const std::string_view name = place_name(tonight.situation, row.rests_on);
    words =
        " " + wording.say(Phrase::kCoverByOther, fmt::arg("place", wording.place(name)));
  } else if (!row.humidity_known) {
    words = " " + wording.say(Phrase::kCoverNoHumidity);
  }
  if (row.opinion) {
    words += " " + wording.say(Phrase::kCoverOpinion,
                               fmt::arg("low", wording.text_of(*row.opinion)));
  }
  return words;
}

// The numbers are those of the outlook as it was issued.
std::string low_text(const Tonight& tonight) {
  const OutlookRow& row = tonight.row;
  const Wording& wording = tonight.situation.wording;
  const Odds odds = odds_below(outlook_of(row), tonight.keep_above);
  return wording.say(Phrase::kCoverLow, fmt::arg("low", wording.text_of(row.low)),
                     fmt::arg("low10", wording.text_of(row.low10)),
                     fmt::arg("low90", wording.text_of(row.low90)),
                     fmt::arg("odds", wording.text_of(odds)),
                     fmt::arg("mark", wording.text_of(tonight.keep_above)));
}

// In whole degrees, so that the words do not change with every reading.
std::string since_then(const Tonight& tonight) {
  if (!tonight.outrun) return "";
  const Wording& wording = tonight.situation.wording;
  return " " + wording.say(Phrase::kCoverFaster,
                           fmt::arg("low", wording.whole_text_of(tonight.outlook.low)));
}

// The words change with the outlook, with a deadline that has passed, with the light that
// is needed and with a fall that outruns them all; not with every reading.
std::string body_for(const Tonight& tonight, int layers, const CoverDeadline& deadline) {
  const OutlookRow& row = tonight.row;
  const Wording& wording = tonight.situation.wording;
  std::string body =
      what_to_do(tonight, layers, deadline.reason) + " " + low_text(tonight) +
      since_then(tonight) + " " +
      wording.say(Phrase::kOutlookAt, fmt::arg("time", wording.time(row.issued_at))) +
      grounds(tonight);
  if (tonight.situation.now >= row.sunset || deadline.at > row.sunset) {
    body += " " + wording.say(Phrase::kCoverDark);
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
  const CoverDeadline deadline = deadline_for(tonight);
  finding.deadline = deadline.at;
  finding.send_until = row.sunset + kEveningEnds;
  finding.ends_at = row.sunrise;
  finding.title = title_for(tonight);
  finding.body = body_for(tonight, layers, deadline);
  return finding;
}

}  // namespace

std::vector<Finding> find_cover(const Situation& situation) {
  return find_by_place(situation, &finding_for);
}

}  // namespace rimeward
