// What a gardener calls a day or some days: words in, dates out. Capitals do not count,
// nor does a comma. Pure.
//
// A day or month without its year is the most recent that has begun: nobody asks a record
// for days to come.

#pragma once

#include <chrono>
#include <optional>
#include <string>
#include <string_view>

namespace rimeward {

// Some days one after the other, both included.
struct Dates {
  std::chrono::sys_days from{};
  std::chrono::sys_days to{};
  bool operator==(const Dates&) const = default;
};

// "today", "yesterday", "2026-04-12"; "12 Apr", "April 12", "12 Apr 2025"; "12.4.",
// "12.04.2025", the day first; "monday", "last sunday": the most recent before today.
std::optional<std::chrono::sys_days> day_named(std::string_view text,
                                               std::chrono::sys_days today);

// Any of these, and "this week", "last week" (Monday to Sunday, ISO 8601), "this month",
// "last year"; "2026-04", "April", "April 2025", "2026"; "last 10 days", "last 2 weeks",
// which end today; "12 Apr to 18 Apr", "12 to 18 Apr", "since 1 Apr". Not clipped: may
// end after today, and begin after its end.
std::optional<Dates> days_named(std::string_view text, std::chrono::sys_days today);

// Whether they are the same words, whatever the capitals and spaces.
bool is_same_words(std::string_view text, std::string_view other);

// Why a date such as "4/12/2025" is not guessed at, and how to write it; nothing for a
// text without one.
std::optional<std::string> unclear_date(std::string_view text,
                                        std::chrono::sys_days today);

// `; did you mean "april"?`: of the first word that is none of the calendar's; empty when
// none is near.
std::string did_you_mean_date(std::string_view text);

}  // namespace rimeward
