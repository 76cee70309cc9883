// Dates as a gardener types and reads them. Pure.

#pragma once

#include <chrono>
#include <string>
#include <string_view>

#include "daemon/climate/planning.h"
#include "sensors/result.h"

namespace rimeward {

// "today", "yesterday" or "2026-04-12". The error begins with `what`, the option's name.
Result<std::chrono::sys_days> day_from_words(std::string_view what, std::string_view text,
                                             std::chrono::sys_days today);

// The same, but refuses what is still to come or more than `most` ago.
Result<std::chrono::sys_days> past_day_from_words(std::string_view what,
                                                  std::string_view text,
                                                  std::chrono::sys_days today,
                                                  std::chrono::days most);

// "29 Mar", or "29 Mar 2025" of another year than today's.
std::string short_date(std::chrono::sys_days date, std::chrono::sys_days today);

// "12 to 17 May", "28 Apr to 3 May", "from 12 May on" where the end is not foreseeable.
std::string span_text(const DateSpan& span, std::chrono::sys_days today);

}  // namespace rimeward
