// Dates as a gardener types and reads them. Pure.

#pragma once

#include <chrono>
#include <optional>
#include <string>
#include <string_view>

#include "daemon/climate/planning.h"
#include "sensors/result.h"
#include "tools/cli/calendar_words.h"

namespace rimeward {

// A day as day_named() knows it: "today", "monday", "12 Apr", "12.4.", "2026-04-12". The
// error begins with `what`, the option's name, and says what would be understood.
Result<std::chrono::sys_days> day_from_words(std::string_view what, std::string_view text,
                                             std::chrono::sys_days today);

// Days as days_named() knows them: "last week", "April", "12 Apr to 18 Apr". Ends today
// at the latest; refuses what is still to come.
Result<Dates> days_from_words(std::string_view what, std::string_view text,
                              std::chrono::sys_days today);

// The same as day_from_words(), but refuses what is still to come or more than `most`
// ago.
Result<std::chrono::sys_days> past_day_from_words(std::string_view what,
                                                  std::string_view text,
                                                  std::chrono::sys_days today,
                                                  std::chrono::days most);
// The day itself, or the same refusals.
Result<std::chrono::sys_days> past_day(std::string_view what, std::chrono::sys_days date,
                                       std::chrono::sys_days today,
                                       std::chrono::days most);

// A day, a time of day, or both with a space or a T between: at least one is there.
struct DayAndTime {
  std::optional<std::chrono::sys_days> day{};
  std::optional<std::chrono::minutes> time{};
};

// "07:30", "tomorrow", "2026-04-12", "yesterday 07:30", "2026-04-12T07:30". Nothing for
// any other text.
std::optional<DayAndTime> day_and_time_from_words(std::string_view text,
                                                  std::chrono::sys_days today);

// What a day stands for where its time is not said.
inline constexpr std::chrono::minutes kNoon = std::chrono::hours{12};

// "29 Mar", or "29 Mar 2025" of another year than today's.
std::string short_date(std::chrono::sys_days date, std::chrono::sys_days today);

// "12 to 17 May", "28 Apr to 3 May", "from 12 May on" where the end is not foreseeable.
std::string span_text(const DateSpan& span, std::chrono::sys_days today);

}  // namespace rimeward
