// Numbers, times and places as the verbs say them. Pure.

#pragma once

#include <chrono>
#include <optional>
#include <span>
#include <string>
#include <string_view>

#include "daemon/base/garden.h"
#include "daemon/base/zone.h"
#include "daemon/store/rows.h"
#include "sensors/result.h"
#include "sensors/units.h"
#include "tools/cli/screen.h"

namespace rimeward {

// To a tenth, without the unit, which stands in the heading: "-1.5". Never "-0.0".
std::string number(Celsius temperature, TemperatureUnit unit);
// With a sign: "+0.4", "-1.2".
std::string signed_number(Kelvins difference, TemperatureUnit unit);
std::string_view degree_sign(TemperatureUnit unit);  // "°C" or "°F"

// "Sun 12 Apr".
std::string day_text(std::chrono::year_month_day date);
// "18:03", or with the day, "Mon 13 Apr 06:31", when that is not the day of `now`.
std::string when_text(Instant at, Instant now, const Zone& zone);
// "by 19:20", or "overdue since 19:20" once that has passed.
std::string due_text(Instant deadline, Instant now, const Zone& zone);
// "Hochfeld school garden, Sun 12 Apr 18:20".
std::string garden_heading(const Garden& garden, const Zone& zone, Instant now);

// "2026-04-13" as a date; nothing for any other text and for a date that is none.
std::optional<std::chrono::sys_days> date_from_text(std::string_view text);
std::string date_text(std::chrono::sys_days date);

// A place by its id or, whatever the capitals, its name. The error names the nearest and
// all the others. Good as long as the garden.
Result<const Place*> find_place(const Garden& garden, std::string_view word);

// The name of a place, or the id where the settings no longer have it.
std::string_view place_name(const Garden& garden, std::string_view id);

// The layers on a place; 0 for one never covered.
int layers_on(std::span<const CoverRow> covers, std::string_view place);

// "-", "1 layer", "2 layers".
std::string cover_text(int layers);

// "3  Fleece the north frame tonight, by 19:20": one line a notice, for the foot of a
// table. Empty when there are none.
std::string pending_lines(std::span<const NoticeRow> open, const Zone& zone, Instant now,
                          const Screen& screen);

}  // namespace rimeward
