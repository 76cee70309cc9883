#include "tools/cli/warmth_answer.h"

#include <algorithm>
#include <utility>

#include "daemon/store/place_hours.h"

namespace rimeward {
namespace {

using std::chrono::days;
using std::chrono::hours;
using std::chrono::sys_days;

constexpr days kTenYears{3653};
constexpr int kMostMissing = 4;  // hours of a day that still has a sum

// Midnight by the garden's clock.
Instant begins(const Context& context, sys_days date) {
  return context.zone.at(date, std::chrono::minutes{0});
}

// Where a batch was and until when; what lies beyond `end` is left out.
struct Stay {
  std::string_view place;
  Instant from;
  Instant to;
};

std::vector<Stay> stays_until(const KnownBatch& batch, Instant end) {
  std::vector<Stay> stays;
  for (std::size_t i = 0; i < batch.stays.size(); ++i) {
    const bool is_last = i + 1 == batch.stays.size();
    const Instant to = is_last ? end : std::min(end, batch.stays[i + 1].since);
    stays.push_back({batch.stays[i].place, batch.stays[i].since, to});
  }
  return stays;
}

Instant end_of(const Context& context, const KnownBatch& batch) {
  if (!batch.row.finished) return context.now;
  return std::min(context.now, begins(context, *batch.row.finished + days{1}));
}

WarmthSum sum_over(const AirHours& air, const WarmthLimits& limits,
                   std::span<const Stay> stays) {
  WarmthSum sum;
  for (const Stay& stay : stays) {
    const WarmthSum part = air.sum(stay.place, limits, stay.from, stay.to);
    sum.warmth.degree_days += part.warmth.degree_days;
    sum.hours_known += part.hours_known;
    sum.hours += part.hours;
  }
  return sum;
}

// When a stage begins to be counted; nothing as long as the one it is counted from is not
// reached.
std::optional<Instant> beginning_of(const CropStage& stage,
                                    std::span<const StageWarmth> earlier, Instant sown) {
  if (stage.after.empty()) return sown;
  const auto found = std::ranges::find_if(earlier, [&stage](const StageWarmth& each) {
    return each.stage->name == stage.after;
  });
  return found == earlier.end() ? std::nullopt : found->reached;
}

// Hour by hour from `from` on, until the stage is reached.
StageWarmth stage_warmth(const AirHours& air, const CropStage& stage,
                         const std::vector<Stay>& stays, Instant from) {
  const WarmthLimits limits = limits_of(stage);
  StageWarmth result{.stage = &stage, .has_begun = true, .so_far = {}, .reached = {}};
  std::int64_t sum = 0;
  for (const Stay& stay : stays) {
    Instant hour = std::chrono::ceil<hours>(std::max(from, stay.from));
    for (; hour < stay.to; hour += hours{1}) {
      const auto mean = air.at(stay.place, hour);
      if (!mean) continue;
      sum += degree_hours(*mean, limits);
      result.so_far = degree_days(sum);
      if (result.so_far->degree_days < stage.heat_sum) continue;
      result.reached = hour + hours{1};
      return result;
    }
  }
  return result;
}

}  // namespace

AirHours::AirHours(const Context& context, std::vector<const Place*> places, Instant from)
    : context_(context),
      places_(std::move(places)),
      from_(std::chrono::floor<hours>(from)) {
  const Instant to = std::chrono::floor<hours>(context.now) + hours{1};
  // An hour may also be bridged from those before.
  const auto books = air_hours(context.store, context.garden, places_,
                               from_ - HourBook::kBridged - hours{1}, to);
  for (const HourBook& book : books) {
    std::vector<std::optional<Milli>>& air = air_.emplace_back();
    book.each(from_, to, [&air](const HourMeans& means) {
      air.push_back(means.air);
      return true;
    });
  }
}

std::span<const std::optional<Milli>> AirHours::of(std::string_view place) const {
  const auto found = std::ranges::find(places_, place, &Place::id);
  if (found == places_.end()) return {};
  return air_[static_cast<std::size_t>(found - places_.begin())];
}

std::optional<Milli> AirHours::at(std::string_view place, Instant hour) const {
  const auto air = of(place);
  if (hour < from_) return std::nullopt;
  const auto index = static_cast<std::size_t>((hour - from_) / hours{1});
  return index < air.size() ? air[index] : std::nullopt;
}

WarmthSum AirHours::sum(std::string_view place, const WarmthLimits& limits, Instant from,
                        Instant to) const {
  WarmthSum result;
  std::int64_t amount = 0;
  for (Instant hour = std::chrono::ceil<hours>(from); hour < to; hour += hours{1}) {
    ++result.hours;
    const auto mean = at(place, hour);
    if (!mean) continue;
    ++result.hours_known;
    amount += degree_hours(*mean, limits);
  }
  result.warmth = degree_days(amount);
  return result;
}

WarmthByDay AirHours::by_day(std::string_view place, const WarmthLimits& limits) const {
  const sys_days today{context_.zone.local_date(context_.now)};
  const auto air = of(place);
  const auto known =
      std::ranges::find_if(air, [](const auto& mean) { return mean.has_value(); });
  const sys_days first{context_.zone.local_date(from_ + hours{known - air.begin()})};
  WarmthByDay history{.first = first, .days = {}};
  for (sys_days date = first; date < today; date += days{1}) {
    const WarmthSum day =
        sum(place, limits, begins(context_, date), begins(context_, date + days{1}));
    auto& warmth = history.days.emplace_back();
    if (day.hours - day.hours_known > kMostMissing) continue;
    warmth = DegreeDays{day.warmth.degree_days * day.hours / day.hours_known};
  }
  return history;
}

std::vector<const Place*> places_of(const Context& context,
                                    std::span<const KnownBatch> batches) {
  std::vector<const Place*> places;
  for (const Place& place : context.garden.places) {
    const bool has_held_one = std::ranges::any_of(batches, [&](const KnownBatch& batch) {
      return std::ranges::find(batch.stays, place.id, &StayRow::place) !=
             batch.stays.end();
    });
    if (has_held_one) places.push_back(&place);
  }
  return places;
}

Instant ten_years_before(const Context& context) {
  return context.now - kTenYears;
}

std::optional<DegreeDays> WarmthSum::known() const {
  return hours_known > 0 ? std::optional(warmth) : std::nullopt;
}

DegreeDays StageWarmth::remaining() const {
  return {stage->heat_sum - so_far.value_or(DegreeDays{0}).degree_days};
}

WarmthLimits limits_of(const CropStage& stage) {
  return {.base = stage.base, .upper = stage.upper};
}

WarmthLimits limits_of(const Crop& crop) {
  return {.base = crop.base, .upper = crop.upper};
}

BatchWarmth warmth_of(const Context& context, const AirHours& air,
                      const KnownBatch& batch, const Crop& crop) {
  const std::vector<Stay> stays = stays_until(batch, end_of(context, batch));
  BatchWarmth result{.limits = limits_of(crop)};
  result.since_sown = sum_over(air, result.limits, stays);
  for (const CropStage& stage : crop.stages) {
    const auto from = beginning_of(stage, result.stages, stays.front().from);
    result.stages.push_back(from ? stage_warmth(air, stage, stays, *from)
                                 : StageWarmth{.stage = &stage});
  }
  return result;
}

const StageWarmth* next_stage(const BatchWarmth& warmth) {
  const auto found = std::ranges::find_if(
      warmth.stages, [](const StageWarmth& stage) { return !stage.reached; });
  return found == warmth.stages.end() ? nullptr : &*found;
}

Due due_in(const Context& context, const AirHours& air, std::string_view place,
           const WarmthLimits& limits, DegreeDays remaining) {
  const sys_days today{context.zone.local_date(context.now)};
  const WarmthByDay history = air.by_day(place, limits);
  Due due;
  due.pace = recent_pace(history, today);
  if (due.pace) due.by_pace = due_by_pace(remaining, *due.pace, today);
  due.by_past_years = due_by_past_years(remaining, history, today);
  return due;
}

}  // namespace rimeward
