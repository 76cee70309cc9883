// What `rimeward warmth` answers, as text, JSON or CSV.

#pragma once

#include <chrono>
#include <optional>
#include <span>
#include <vector>

#include "tools/cli/batches.h"
#include "tools/cli/verb.h"
#include "tools/cli/warmth_answer.h"

namespace rimeward {

struct BatchReport {
  KnownBatch batch{};
  const Crop* crop = nullptr;  // null: the crop table has it no longer
  BatchWarmth warmth{};
  std::vector<std::optional<Due>> due{};  // of each stage; absent: it is not under way
};

// In text the next stage of each; else every stage. Never with finished ones.
Reply all_batches_report(const Context& context, std::span<const BatchReport> reports);
Reply one_batch_report(const Context& context, const BatchReport& report);

struct PlaceQuestion {
  WarmthLimits limits{};
  std::chrono::sys_days since{};
  std::optional<DegreeDays> target{};
};

struct PlaceReport {
  const Place* place = nullptr;
  WarmthSum sum{};
  Due due{};
  bool is_reached = false;  // the target, where there is one
};

Reply places_report(const Context& context, const PlaceQuestion& question,
                    std::span<const PlaceReport> reports);

}  // namespace rimeward
