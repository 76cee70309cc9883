// Takes records out of the store, in the order of time, and puts them to a sink. However
// much there is, little of it is in memory, and no read of the store lasts long.

#pragma once

#include <cstdint>
#include <optional>
#include <string_view>

#include "tools/cli/records/export_sink.h"
#include "tools/cli/records/record_text.h"
#include "tools/cli/verb.h"

namespace rimeward {

struct ExportAsked {
  RecordStyle style = RecordStyle::kCsv;
  std::optional<std::string_view> place{};      // an id
  std::optional<Channel> channel{};             // readings only
  std::optional<std::chrono::sys_days> from{};  // local dates, both included
  std::optional<std::chrono::sys_days> to{};
};

// Each answers how many rows it put. Throws StoreError, and what the sink throws.
std::uint64_t export_readings(const Context& context, const ExportAsked& asked,
                              ExportSink& sink);
// Highs and lows of the days and nights that are over.
std::uint64_t export_days(const Context& context, const ExportAsked& asked,
                          ExportSink& sink);

}  // namespace rimeward
