// `due`: a batch has had the warmth that a stage of its crop takes.
//
// Once for each batch and stage. It stands until the next stage is reached, or until half
// as much warmth again has come: whoever has not looked by then knows the plants better
// than a sum does, and a batch that is written down late is not told its past.

#include <array>
#include <chrono>
#include <string_view>
#include <utility>

#include <fmt/format.h>

#include "daemon/base/text.h"
#include "daemon/climate/degree_days.h"
#include "daemon/notice/batch_words.h"
#include "daemon/notice/hours_words.h"
#include "daemon/notice/rule.h"
#include "daemon/notice/words.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;

constexpr double kFarPast = 1.5;
// An open notice outlives a correction of the sensor that takes this little away.
constexpr double kLeaveAt = 0.95;
// So many hours without a reading, and such a part of all, are worth telling.
constexpr std::int64_t kManyHours = 24;
constexpr double kManyOfAll = 0.05;

// What to do when a stage is due: {crop} is its name for one, {batch} the batch, {where}
// " in the glasshouse" or empty.
struct StageWords {
  std::string_view stage;
  std::string_view title;
};

constexpr std::array<StageWords, 6> kTitles{{
    {"emergence", "Look for {crop} seedlings{where}"},
    {"potting on", "Pot on the {batch}{where}"},
    {"transplanting", "Plant out the {batch}{where}"},
    {"planting out", "Plant out the {batch}{where}"},
    {"first picking", "Look for a first picking of the {batch}{where}"},
    {"harvest", "Look whether the {batch}{where} can be harvested"},
}};
constexpr std::string_view kAnyTitle = "Look whether the {batch}{where} reached {stage}";

double degree_days_of(const StageView& stage) {
  return degree_days(stage.warmth.amount).degree_days;
}

bool is_reached(const StageView& stage) {
  return degree_days_of(stage) >= stage.stage->heat_sum;
}

// True where the stage that this one is counted from is reached, or it is the sowing.
bool has_begun(const BatchView& batch, const StageView& stage) {
  if (stage.stage->after.empty()) return true;
  for (const StageView& earlier : batch.stages) {
    if (earlier.stage->name == stage.stage->after) return is_reached(earlier);
  }
  return false;
}

std::string title_for(const BatchView& batch, const StageView& stage) {
  std::string_view words = kAnyTitle;
  for (const StageWords& known : kTitles) {
    if (known.stage == stage.stage->name) words = known.title;
  }
  const std::string where =
      batch.place == nullptr ? "" : " in " + in_sentence(batch.place->name);
  return fmt::format(fmt::runtime(words), fmt::arg("crop", batch.crop->name),
                     fmt::arg("batch", batch_text(batch)), fmt::arg("where", where),
                     fmt::arg("stage", stage.stage->name));
}

// Degree days in the garden's unit of temperature, without the unit.
std::string sum_text(double degree_days, TemperatureUnit units) {
  const Kelvins as_difference{degree_days};
  return fmt::format("{:.0f}", units == TemperatureUnit::kCelsius
                                   ? as_difference.degrees
                                   : in_fahrenheit(as_difference));
}

// Of the hours since the sowing; nothing for a stage that is counted from another, since
// when is not known here.
std::string missing_text(const StageView& stage, std::chrono::seconds since_sowing) {
  if (!stage.stage->after.empty()) return "";
  const std::int64_t all = since_sowing / 1h;
  const std::int64_t missing = all - stage.warmth.hours;
  if (missing < kManyHours ||
      static_cast<double>(missing) < kManyOfAll * static_cast<double>(all)) {
    return "";
  }
  return fmt::format(
      " For {} of these {} hours there is no reading, and they count for nothing: it may "
      "be further on.",
      missing, all);
}

std::string body_for(const Situation& situation, const BatchView& batch,
                     const StageView& stage) {
  const CropStage& due = *stage.stage;
  const std::chrono::year_month_day sown{batch.row->sown};
  const auto since_sowing = situation.now - situation.zone.at(sown, 0min);
  const std::string since =
      due.after.empty()
          ? fmt::format("since the sowing on {} {}, {} ago", weekday_text(sown),
                        date_text(sown), span_text(since_sowing))
          : "since " + due.after;
  return fmt::format(
      "{} degree days above {} {}; {} are usual for {}.{} Seed, soil and depth make days "
      "of difference: a guide, not a promise.",
      sum_text(degree_days_of(stage), situation.units),
      text_of(due.base, situation.units), since, sum_text(due.heat_sum, situation.units),
      due.name, missing_text(stage, since_sowing));
}

std::optional<Finding> finding_for(const Situation& situation, const BatchView& batch,
                                   const StageView& stage) {
  const double so_far = degree_days_of(stage);
  const double target = stage.stage->heat_sum;
  if (so_far < target * kLeaveAt || so_far >= target * kFarPast) return std::nullopt;
  if (!has_begun(batch, stage)) return std::nullopt;
  const PlaceView* view = view_of(situation, batch.place);
  const auto night = view == nullptr ? std::nullopt : view->night;

  Finding finding;
  finding.subject = fmt::format("{}/{}", batch.row->id, stage.stage->name);
  if (batch.place != nullptr) finding.place = batch.place->id;
  finding.holds = is_reached(stage) && is_garden_time(situation, night);
  finding.title = title_for(batch, stage);
  finding.body = body_for(situation, batch, stage);
  return finding;
}

}  // namespace

std::vector<Finding> find_due(const Situation& situation) {
  std::vector<Finding> findings;
  for (const BatchView& batch : situation.batches) {
    for (std::size_t i = 0; i < batch.stages.size(); ++i) {
      const bool is_past = i + 1 < batch.stages.size() &&
                           is_reached(batch.stages[i + 1]) &&
                           has_begun(batch, batch.stages[i + 1]);
      if (is_past) continue;
      if (auto finding = finding_for(situation, batch, batch.stages[i])) {
        findings.push_back(std::move(*finding));
      }
    }
  }
  return findings;
}

}  // namespace rimeward
