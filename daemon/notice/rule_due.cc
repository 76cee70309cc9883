// `due`: a batch has had the warmth that a stage of its crop takes.
//
// Once for each batch and stage. It stands until the next stage is reached, or until half
// as much warmth again has come: whoever has not looked by then knows the plants better
// than a sum does, and a batch that is written down late is not told its past.

#include <algorithm>
#include <array>
#include <chrono>
#include <string_view>
#include <utility>

#include <fmt/format.h>

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

// What a stage of the crop table is called, and what to do when it is due.
struct StageWords {
  std::string_view stage;
  Phrase name;
  Phrase title;
  Phrase title_in;  // the same where the batch's place is known
};

constexpr std::array<StageWords, 6> kStages{{
    {"emergence", Phrase::kStageEmergence, Phrase::kDueEmergence,
     Phrase::kDueEmergenceIn},
    {"potting on", Phrase::kStagePottingOn, Phrase::kDuePottingOn,
     Phrase::kDuePottingOnIn},
    {"transplanting", Phrase::kStageTransplanting, Phrase::kDuePlantingOut,
     Phrase::kDuePlantingOutIn},
    {"planting out", Phrase::kStagePlantingOut, Phrase::kDuePlantingOut,
     Phrase::kDuePlantingOutIn},
    {"first picking", Phrase::kStageFirstPicking, Phrase::kDueFirstPicking,
     Phrase::kDueFirstPickingIn},
    {"harvest", Phrase::kStageHarvest, Phrase::kDueHarvest, Phrase::kDueHarvestIn},
}};

// Null for a stage of the gardener's own, which is called as it is written.
const StageWords* words_for_stage(std::string_view stage) {
  const auto* found = std::ranges::find(kStages, stage, &StageWords::stage);
  return found == kStages.end() ? nullptr : found;
}

std::string stage_name(const Wording& wording, const std::string& stage) {
  const StageWords* known = words_for_stage(stage);
  return known == nullptr ? stage : wording.say(known->name);
}

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

Phrase title_phrase(std::string_view stage, bool has_place) {
  const StageWords* known = words_for_stage(stage);
  if (known == nullptr) return has_place ? Phrase::kDueOtherIn : Phrase::kDueOther;
  return has_place ? known->title_in : known->title;
}

std::string title_for(const Wording& wording, const BatchView& batch,
                      const std::string& stage) {
  const bool has_place = batch.place != nullptr;
  return sentence(wording.say(
      title_phrase(stage, has_place), fmt::arg("crop", batch.crop->name),
      fmt::arg("batch", batch_text(batch)),
      fmt::arg("place", has_place ? wording.place(batch.place->name) : std::string{}),
      fmt::arg("stage", stage_name(wording, stage))));
}

// Degree days in the garden's unit of temperature, without the unit.
std::string sum_text(const Wording& wording, double degree_days) {
  const bool celsius = wording.unit() == TemperatureUnit::kCelsius;
  return wording.number(celsius ? degree_days : in_fahrenheit(Kelvins{degree_days}), 0);
}

// Of the hours since the sowing; nothing for a stage that is counted from another, since
// when is not known here.
std::string missing_text(const Wording& wording, const StageView& stage,
                         std::chrono::seconds since_sowing) {
  if (!stage.stage->after.empty()) return "";
  const std::int64_t all = since_sowing / 1h;
  const std::int64_t missing = all - stage.warmth.hours;
  if (missing < kManyHours ||
      static_cast<double>(missing) < kManyOfAll * static_cast<double>(all)) {
    return "";
  }
  return " " + wording.say(Phrase::kDueMissing, fmt::arg("missing", missing),
                           fmt::arg("all", all));
}

std::string body_for(const Situation& situation, const BatchView& batch,
                     const StageView& stage) {
  const Wording& wording = situation.wording;
  const CropStage& due = *stage.stage;
  const std::chrono::year_month_day sown{batch.row->sown};
  const auto since_sowing = situation.now - situation.zone.at(sown, 0min);
  const std::string so_far = wording.say(
      due.after.empty() ? Phrase::kDueSinceSowing : Phrase::kDueSinceStage,
      fmt::arg("sum", sum_text(wording, degree_days_of(stage))),
      fmt::arg("base", wording.text_of(due.base)),
      fmt::arg("weekday", wording.weekday(sown)), fmt::arg("date", wording.date(sown)),
      fmt::arg("ago", wording.span(since_sowing)),
      fmt::arg("earlier", stage_name(wording, due.after)),
      fmt::arg("usual", sum_text(wording, due.heat_sum)),
      fmt::arg("stage", stage_name(wording, due.name)));
  return so_far + missing_text(wording, stage, since_sowing) + " " +
         wording.say(Phrase::kDueGuide);
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
  finding.title = title_for(situation.wording, batch, stage.stage->name);
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
