// `rimeward warmth`: the degree days of each batch, of its stages or of a place, and when
// a target will be met.

#include <chrono>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include <fmt/format.h>

#include "tools/cli/batches.h"
#include "tools/cli/calibrate_arguments.h"
#include "tools/cli/date_words.h"
#include "tools/cli/quantity.h"
#include "tools/cli/verb.h"
#include "tools/cli/warmth_answer.h"
#include "tools/cli/warmth_report.h"
#include "tools/cli/words.h"

namespace rimeward {
namespace {

using std::chrono::days;
using std::chrono::sys_days;

constexpr std::string_view kBatch = "BATCH";
constexpr std::string_view kPlace = "--place";
constexpr std::string_view kBase = "--base";
constexpr std::string_view kSince = "--since";
constexpr std::string_view kTarget = "--target";

constexpr days kLongestAgo{3653};  // as far as hours are looked at
constexpr Celsius kLowestBase{-30};
constexpr Celsius kHighestBase{40};
constexpr double kMostWarmth = 100'000;  // more than ten years of any climate

BatchReport report_of(const Context& context, const AirHours& air, KnownBatch batch) {
  BatchReport report{.batch = std::move(batch)};
  report.crop = context.garden.crops.find(report.batch.row.crop);
  if (report.crop == nullptr) return report;
  report.warmth = warmth_of(context, air, report.batch, *report.crop);
  for (const StageWarmth& stage : report.warmth.stages) {
    std::optional<Due>& due = report.due.emplace_back();
    if (!stage.is_under_way() || report.batch.row.finished) continue;
    due = due_in(context, air, report.batch.place(), limits_of(*stage.stage),
                 stage.remaining());
  }
  return report;
}

Reply about_all(const Context& context) {
  std::vector<KnownBatch> batches = known_batches(context.store);
  std::erase_if(batches, [](const KnownBatch& batch) { return batch.row.finished; });
  const AirHours air(context, places_of(context, batches), ten_years_before(context));
  std::vector<BatchReport> reports;
  for (KnownBatch& batch : batches) {
    reports.push_back(report_of(context, air, std::move(batch)));
  }
  return all_batches_report(context, reports);
}

Reply about_one(const Context& context, std::string_view word) {
  const auto batches = known_batches(context.store);
  const auto batch = find_batch(batches, word);
  if (!batch) return misused(batch.error().message);
  const AirHours air(context, places_of(context, {*batch, 1}), ten_years_before(context));
  return one_batch_report(context, report_of(context, air, **batch));
}

Result<Celsius> base_said(const Context& context, const Arguments& arguments) {
  const auto number = number_of(arguments, kBase);
  if (!number) return tl::unexpected(number.error());
  const TemperatureUnit unit = context.garden.units;
  const Celsius base{value_from_shown(Channel::kAirTemperature, *number, unit)};
  if (base < kLowestBase || base > kHighestBase) {
    return refuse(fmt::format("{}: expected a temperature in {} such as {:.0f}, got {}",
                              kBase, degree_sign(unit),
                              shown_value(Channel::kAirTemperature, 10, unit), *number));
  }
  return base;
}

Result<std::optional<DegreeDays>> target_said(const Context& context,
                                              const Arguments& arguments) {
  if (!arguments.given(kTarget)) return std::nullopt;
  const auto number = number_of(arguments, kTarget);
  if (!number) return tl::unexpected(number.error());
  const double target =
      difference_from_shown(Channel::kAirTemperature, *number, context.garden.units);
  if (target <= 0 || target > kMostWarmth) {
    return refuse(
        fmt::format("{}: expected degree days such as 450, got {}", kTarget, *number));
  }
  return DegreeDays{target};
}

// What is asked of places: since the first of January where no day is said.
Result<PlaceQuestion> question_of(const Context& context, const Arguments& arguments) {
  if (!arguments.given(kBase)) {
    return refuse(
        "warmth of a place needs --base T: degree days above which temperature");
  }
  const auto base = base_said(context, arguments);
  if (!base) return tl::unexpected(base.error());
  const auto target = target_said(context, arguments);
  if (!target) return tl::unexpected(target.error());
  const std::chrono::year_month_day today = context.zone.local_date(context.now);
  Result<sys_days> since = sys_days{today.year() / 1 / 1};
  if (const auto word = arguments.text(kSince)) {
    since = past_day_from_words(kSince, *word, sys_days{today}, kLongestAgo);
  }
  if (!since) return tl::unexpected(since.error());
  return PlaceQuestion{.limits = {.base = *base}, .since = *since, .target = *target};
}

Result<std::vector<const Place*>> places_said(const Context& context,
                                              const Arguments& arguments) {
  std::vector<const Place*> places;
  if (const auto word = arguments.text(kPlace)) {
    const auto place = find_place(context.garden, *word);
    if (!place) return tl::unexpected(place.error());
    places.push_back(*place);
    return places;
  }
  for (const Place& place : context.garden.places)
    places.push_back(&place);
  return places;
}

Reply about_places(const Context& context, const Arguments& arguments) {
  const auto question = question_of(context, arguments);
  if (!question) return misused(question.error().message);
  const auto places = places_said(context, arguments);
  if (!places) return misused(places.error().message);
  const AirHours air(context, *places, ten_years_before(context));
  const Instant from = context.zone.at(question->since, std::chrono::minutes{0});
  std::vector<PlaceReport> reports;
  for (const Place* place : *places) {
    PlaceReport report{.place = place};
    report.sum = air.sum(place->id, question->limits, from, context.now);
    DegreeDays still{0};
    if (const auto& target = question->target) {
      still.degree_days = target->degree_days - report.sum.warmth.degree_days;
      report.is_reached = still.degree_days <= 0;
    }
    report.due = due_in(context, air, place->id, question->limits, still);
    reports.push_back(report);
  }
  return places_report(context, *question, reports);
}

Reply run(const Context& context, const Arguments& arguments) {
  bool is_of_places = false;
  for (const std::string_view option : {kPlace, kBase, kSince, kTarget})
    is_of_places = is_of_places || arguments.given(option);
  const auto batch = arguments.text(kBatch);
  if (batch && is_of_places) {
    return misused(
        "--place, --base, --since and --target ask about places: leave the "
        "batch out");
  }
  if (is_of_places) return about_places(context, arguments);
  return batch ? about_one(context, *batch) : about_all(context);
}

constexpr Parameter kParameters[]{
    {.name = kBatch,
     .value = "",
     .help = "one batch, stage by stage",
     .offers = Offers::kBatches},
    {.name = kPlace,
     .value = "P",
     .help = "instead of batches: this place; wants --base",
     .offers = Offers::kPlaces},
    {kBase, "T", "of places: degree days above this temperature"},
    {.name = kSince,
     .value = "DATE",
     .help = "of places: from this day on (default 1 January)",
     .offers = Offers::kDays},
    {kTarget, "SUM", "of places: when this sum will be met"},
};

}  // namespace

VerbDetails describe_warmth() {
  return {
      .teaching =
          "How much warmth each batch has had since it was sown, in degree days above "
          "what its crop needs to grow, and when the sum for its next stage will be "
          "met. Each hour counts by its mean temperature in the place where the batch "
          "stood.\n\n"
          "When it is due is told twice: as it would go on at the pace of the last week, "
          "with "
          "odds of about eight in ten as far as the season does not change; and as it "
          "went on from this date in past years, where the store has them. In spring "
          "things tend to come sooner than the last week lets expect. Seed, soil and "
          "depth make days of difference. `a day` is the mean of the last week.\n\n"
          "  rimeward warmth\n"
          "  batch     next stage    °C days  a day  due\n"
          "  chillies  emergence   96 of 182    8.9  20 to 26 Apr; by 3 past years\n"
          "                                          19 to 24 Apr\n\n"
          "  rimeward warmth --place glasshouse --base 10 --since 2026-03-01 --target "
          "450",
      .parameters = kParameters,
      .tabular = true,
      .knows_crops = true,
      .answer = run};
}

}  // namespace rimeward
