// `dry`: since a place was last watered its air has drawn as much water as its plants can
// spare, or its soil is below the moisture that was set for it.
//
// The shipped allowances (daemon/base/garden.h, DryLimits) are worked out, not measured:
//   A day       On 6 July in Uccle short grass uses 3.9 mm and the air is 0.588 kPa from
//               saturation (FAO-56, example 18), over a day 14.1 kPa h: 0.27 mm for each.
//   open, 48    A young vegetable bed has roots to 0.3 m (FAO-56, table 22) in loam that
//               holds 150 mm of available water a metre (table 19, 130 to 180), of which
//               lettuce takes 0.3 without suffering (table 22): 13.5 mm, so 49 kPa h.
//   covered, 24 Cells and trays 50 mm deep hold a quarter of that as easily available
//               water (De Boodt & Verdonck 1972: 20 to 30 % of the volume of a good
//               compost); half of it, 6.3 mm, may go: 23 kPa h.
// The tables of FAO-56 and the compost's figure are from memory. Under glass less light
// goes with the same deficit, large plants drink more: both are in the factor of two or
// so by which a place will want its own dry_after.

#include <algorithm>
#include <chrono>
#include <cmath>
#include <utility>

#include <fmt/format.h>

#include "daemon/climate/evaporation.h"
#include "daemon/notice/hours_words.h"
#include "daemon/notice/rule.h"
#include "daemon/notice/words.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;

// The day above, as a yardstick for people.
constexpr KilopascalHours kSummerDay{14.1};
// An open notice stays while a correction of the sensor takes no more away than this.
constexpr double kLeaveAt = 0.9;
// An older word about the soil says nothing of it now.
constexpr std::chrono::hours kFresh{24};
// Percent of moisture above the mark from which the soil is well again.
constexpr double kWellAgain = 3;
// So many hours without a reading, and such a part of all, are worth telling.
constexpr std::int64_t kManyHours = 6;
constexpr double kManyOfAll = 0.1;

// One of the two ways in which a place is dry.
struct Cause {
  bool holds = false;
  double urgency = 0;  // 1 more at twice the allowance, or half the moisture
  std::string words;
};

double allowance_of(const Situation& situation, const Place& place) {
  const DryLimits& usual = situation.advice.dry;
  const KilopascalHours own =
      place.dry_after.value_or(is_covered(place.kind) ? usual.covered : usual.open);
  return own.kilopascal_hours;
}

// Empty where few are missing.
std::string missing_text(const Wording& wording, const Dryness& dryness, Instant now) {
  const std::int64_t all = (now - dryness.since) / 1h;
  const std::int64_t missing = all - dryness.demand.hours;
  if (missing < kManyHours ||
      static_cast<double>(missing) < kManyOfAll * static_cast<double>(all)) {
    return "";
  }
  return " " + wording.say(Phrase::kDryMissing, fmt::arg("hours", missing));
}

std::string air_text(const Situation& situation, const PlaceView& view, double demand) {
  const Wording& wording = situation.wording;
  const Dryness& dryness = *view.dryness;
  const double days = std::round(demand / kSummerDay.kilopascal_hours);
  std::string text = wording.say(
      days <= 1 ? Phrase::kDryAirOneDay : Phrase::kDryAirManyDays,
      fmt::arg("when", wording.day_and_time(dryness.since)),
      fmt::arg("days", wording.number(days, 0)),
      fmt::arg("demand", wording.number(demand, 0)),
      fmt::arg("mark", wording.number(allowance_of(situation, *view.place), 0)));
  text += missing_text(wording, dryness, situation.now);
  if (!is_covered(view.place->kind)) text += " " + wording.say(Phrase::kDryRain);
  return text;
}

std::optional<Cause> dry_air(const Situation& situation, const PlaceView& view) {
  if (!view.dryness) return std::nullopt;
  const double demand = drying_demand(view.dryness->demand.amount).kilopascal_hours;
  const double share = demand / allowance_of(situation, *view.place);
  if (share < kLeaveAt) return std::nullopt;
  return Cause{.holds = share >= 1,
               .urgency = std::log2(share),
               .words = air_text(situation, view, demand)};
}

std::optional<Cause> dry_soil(const Situation& situation, const PlaceView& view) {
  if (!view.soil_moisture || !view.place->soil_moisture_low) return std::nullopt;
  const SoilMoisture& soil = *view.soil_moisture;
  const double mark = *view.place->soil_moisture_low;
  if (situation.now - soil.at > kFresh || soil.percent >= mark + kWellAgain) {
    return std::nullopt;
  }
  const bool holds = soil.percent < mark;
  const Wording& wording = situation.wording;
  return Cause{.holds = holds,
               .urgency = holds ? 2 * (mark - soil.percent) / mark : 0,
               .words = wording.say(Phrase::kDrySoil,
                                    fmt::arg("moisture", wording.number(soil.percent, 0)),
                                    fmt::arg("when", wording.day_and_time(soil.at)),
                                    fmt::arg("mark", wording.number(mark, 0)))};
}

std::optional<Finding> finding_for(const Situation& situation, const PlaceView& view) {
  const auto soil = dry_soil(situation, view);
  const auto air = dry_air(situation, view);
  if (!soil && !air) return std::nullopt;

  Finding finding;
  finding.subject = finding.place = view.place->id;
  bool holds = false;
  for (const auto& cause : {soil, air}) {
    if (!cause) continue;
    holds = holds || cause->holds;
    finding.urgency = std::max(finding.urgency, cause->urgency);
    finding.body += cause->words + " ";
  }
  finding.holds = holds && is_garden_time(situation, view.night);
  const Wording& wording = situation.wording;
  finding.title = sentence(
      wording.say(Phrase::kDryTitle, fmt::arg("place", wording.place(view.place->name))));
  finding.body += wording.say(Phrase::kDryAdvice);
  return finding;
}

}  // namespace

std::vector<Finding> find_dry(const Situation& situation) {
  return find_by_place(situation, &finding_for);
}

}  // namespace rimeward
