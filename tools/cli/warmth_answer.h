// How much warmth batches and places have had, and when that of a stage will be reached.
// By the hours of the store, as the daemon counts them (daemon/season_book.h).

#pragma once

#include <chrono>
#include <optional>
#include <span>
#include <string_view>
#include <vector>

#include "daemon/base/crop.h"
#include "daemon/base/quantities.h"
#include "daemon/climate/degree_days.h"
#include "daemon/climate/planning.h"
#include "tools/cli/batches.h"
#include "tools/cli/verb.h"

namespace rimeward {

// Over a span of hours, that under way included.
struct WarmthSum {
  DegreeDays warmth{0};
  int hours_known = 0;
  int hours = 0;

  // Nothing where no hour is known.
  std::optional<DegreeDays> known() const;
};

// The mean air temperature of each hour in some places of the garden, read from the store
// once.
class AirHours {
 public:
  // Of `places`, from `from` until now. REQUIRES: `context` outlives this.
  AirHours(const Context& context, std::vector<const Place*> places, Instant from);

  // Nothing for an hour not known, for one before `from`, and in a place that is none of
  // these.
  std::optional<Milli> at(std::string_view place, Instant hour) const;

  // Over the hours that begin at `from` or later and before `to`.
  WarmthSum sum(std::string_view place, const WarmthLimits& limits, Instant from,
                Instant to) const;

  // Of each local date up to yesterday. A date with up to four hours missing counts them
  // as warm as the rest.
  WarmthByDay by_day(std::string_view place, const WarmthLimits& limits) const;

 private:
  // Hour by hour from `from_` on; empty for a place that is none of these.
  std::span<const std::optional<Milli>> of(std::string_view place) const;

  const Context& context_;
  std::vector<const Place*> places_;
  Instant from_;                                        // a whole hour
  std::vector<std::vector<std::optional<Milli>>> air_;  // by place, then hour
};

// Where the batches stood in their time; a place that is no longer in the settings is
// left out.
std::vector<const Place*> places_of(const Context& context,
                                    std::span<const KnownBatch> batches);

// How far back past years are looked at.
Instant ten_years_before(const Context& context);

struct StageWarmth {
  const CropStage* stage = nullptr;
  bool has_begun =
      false;  // the stage that it is counted from is reached, if there is one
  std::optional<DegreeDays> so_far{};  // since then; absent: no hour is known
  std::optional<Instant> reached{};

  bool is_under_way() const { return has_begun && !reached; }
  DegreeDays remaining() const;
};

struct BatchWarmth {
  WarmthLimits limits{};              // the crop's own
  WarmthSum since_sown{};             // above its base
  std::vector<StageWarmth> stages{};  // as the crop's
};

WarmthLimits limits_of(const CropStage& stage);
WarmthLimits limits_of(const Crop& crop);

// Over all places that it stood in, until now or until it was finished.
BatchWarmth warmth_of(const Context& context, const AirHours& air,
                      const KnownBatch& batch, const Crop& crop);

// The first stage not reached, or null: that which is due next.
const StageWarmth* next_stage(const BatchWarmth& warmth);

// When so much more warmth will have come, if all stays where it is.
struct Due {
  std::optional<Pace> pace{};  // absent: too few readings lately
  std::optional<DateSpan> by_pace{};
  PastYears by_past_years{};

  std::optional<DateSpan> span() const { return united(by_pace, by_past_years.span); }
};

Due due_in(const Context& context, const AirHours& air, std::string_view place,
           const WarmthLimits& limits, DegreeDays remaining);

}  // namespace rimeward
