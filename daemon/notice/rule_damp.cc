// `damp`: plants under cover have been damp or wet for as long as grey mould (Botrytis)
// takes to start.
//
// Told in the morning or by day, while there is somebody to open up. A run of damp hours
// that ended a short while ago counts too: the sun may have dried the leaves since, but
// what is growing on them has begun.
//
// The shipped limits (daemon/base/garden.h, DampLimits):
//   90 %        HDC project PC 301 (growers keep tomatoes below 85 to 90 %); Soc. Plant
//               Prot. North Japan 68 (2017), 123-127: disease follows the hours above 90
//               %
//   6 h         North Carolina State Extension: 4 to 6 hours of free water, greenhouse
//               condensation included, are enough; University of Minnesota Extension:
//               spores start best on leaves that are wet for 5 to 8 hours
//   10 to 25 C  a little wider than the 12 to 24 C that growers' rules have (common
//               practice); the same extension has 16 to 24 C, and little above 28

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

// How long after its end a run is still told.
constexpr std::chrono::hours kLately{4};
// An open notice stays while the air is this much drier, or cooler or warmer.
constexpr double kDrierPercent = 5;
constexpr Kelvins kBeyond{1};
// A whole further day without a break is worth telling again.
constexpr double kHoursWorse = 24;
constexpr std::chrono::minutes kFresh = 90min;

struct Damp {
  const Situation& situation;
  const PlaceView& view;
  DampRun run;
};

DampLimits relaxed(DampLimits limits) {
  limits.humidity.percent -= kDrierPercent;
  limits.warmer_than = limits.warmer_than - kBeyond;
  limits.cooler_than = limits.cooler_than + kBeyond;
  return limits;
}

// The newest run of damp hours; of no hours where there was none lately.
DampRun newest_run(const Situation& situation, const PlaceView& view,
                   const DampLimits& limits) {
  const auto newest = newest_whole_hour(view, Channel::kHumidity, situation.now);
  if (!newest) return {};
  DampPlace place{.inside = *view.hours};
  if (const PlaceView* outside = free_air(situation)) place.outside = outside->hours;
  if (view.night) place.night = DarkHours{view.night->sunset, view.night->sunrise};
  for (Instant hour = *newest; situation.now - hour < kLately + 1h; hour -= 1h) {
    const DampRun run = damp_run(place, limits, hour);
    if (run.hours > 0) return run;
  }
  return {};
}

bool is_long(const DampRun& run, const DampLimits& limits) {
  return std::chrono::hours{run.hours} >= limits.for_hours;
}

std::optional<TimedValue> air_outside(const Situation& situation) {
  const PlaceView* outside = free_air(situation);
  if (outside == nullptr || outside->recents == nullptr) return std::nullopt;
  return outside->recents->air.newest_at_or_before(situation.now, kFresh);
}

// Whether the plants can stand the air that would come in; nothing where that of outside
// is not known and something must be kept warm.
std::optional<bool> can_be_aired(const Damp& damp) {
  if (!damp.view.keep_above) return true;
  const auto outside = air_outside(damp.situation);
  if (!outside) return std::nullopt;
  return Celsius{outside->value} >= *damp.view.keep_above;
}

std::string what_to_do(const Damp& damp) {
  const Wording& wording = damp.situation.wording;
  if (!damp.view.keep_above) return wording.say(Phrase::kDampOpen);
  const std::string mark = wording.text_of(*damp.view.keep_above);
  const auto air = air_outside(damp.situation);
  if (!air) return wording.say(Phrase::kDampOpenUnknown, fmt::arg("mark", mark));

  const auto say_of_air = [&](Phrase phrase) {
    return wording.say(phrase, fmt::arg("outside", wording.text_of(Celsius{air->value})),
                       fmt::arg("time", wording.time(air->at)), fmt::arg("mark", mark));
  };
  if (*can_be_aired(damp)) return say_of_air(Phrase::kDampOpenMild);
  return say_of_air(Phrase::kDampTooCold) + " " +
         wording.say(is_morning(damp.situation) ? Phrase::kDampOpenLater
                                                : Phrase::kDampOpenTomorrow);
}

std::string what_was(const Damp& damp) {
  const Wording& wording = damp.situation.wording;
  const DampRun& run = damp.run;
  const HourMeans last = damp.view.hours->means(run.ends - 1h);
  const std::string hours =
      run.hours == kLongestDampRun
          ? wording.say(Phrase::kDampLastHours, fmt::arg("count", run.hours))
          : hours_text(wording, run.hours);
  return sentence(wording.say(
      run.condensing > 0 ? Phrase::kDampWetHours : Phrase::kDampHours,
      fmt::arg("hours", hours), fmt::arg("time", wording.time(run.ends)),
      fmt::arg("limit", wording.number(damp.situation.advice.damp.humidity.percent, 0)),
      fmt::arg("condensing", run.condensing),
      fmt::arg("air", wording.text_of(Celsius{from_milli(*last.air)})),
      fmt::arg("humidity", wording.number(from_milli(*last.humidity), 0))));
}

std::string title_for(const Damp& damp) {
  const Wording& wording = damp.situation.wording;
  return sentence(wording.say(
      can_be_aired(damp).value_or(false) ? Phrase::kDampTitle : Phrase::kDampTitleLater,
      fmt::arg("place", wording.place(damp.view.place->name))));
}

std::optional<Finding> finding_for(const Situation& situation, const PlaceView& view) {
  if (!is_covered(view.place->kind) || view.hours == nullptr) return std::nullopt;
  const DampLimits& limits = situation.advice.damp;
  Damp damp{situation, view, newest_run(situation, view, limits)};
  const bool is_due = is_long(damp.run, limits);
  if (!is_due) {
    const DampLimits leave = relaxed(limits);
    damp.run = newest_run(situation, view, leave);
    if (!is_long(damp.run, leave)) return std::nullopt;
  }

  Finding finding;
  finding.subject = finding.place = view.place->id;
  finding.holds = is_due && is_garden_time(situation, view.night);
  finding.urgency = damp.run.hours / kHoursWorse;
  finding.title = title_for(damp);
  const Wording& wording = situation.wording;
  finding.body = what_was(damp) + " " + wording.say(Phrase::kDampMould) + " " +
                 what_to_do(damp) + " " + wording.say(Phrase::kDampAdvice);
  return finding;
}

}  // namespace

std::vector<Finding> find_damp(const Situation& situation) {
  return find_by_place(situation, &finding_for);
}

}  // namespace rimeward
