// When a telling may leave by a route: quiet hours, digests, and kinds that are muted.
// Pure.

#pragma once

#include <chrono>
#include <cstdint>
#include <optional>
#include <string_view>

#include "daemon/base/garden.h"
#include "daemon/base/zone.h"
#include "daemon/store/rows.h"

namespace rimeward {

// What a person should be told, apart from what only keeps a picture up to date.
bool is_told(std::string_view event);

// Whether the route takes the notice's kind and place, and an event of that name.
bool is_for(const RouteSettings& route, const NoticeRow& notice, std::string_view event);

// When it is no longer quiet: `now` where it is not, else the end of the quiet hours.
Instant after_quiet(const DailySpan& quiet, Instant now, const Zone& zone);

// The next time of day that is `of_day`, `now` itself included.
Instant next_time(std::chrono::minutes of_day, Instant now, const Zone& zone);

// When a telling that came up at `now` is to leave. A danger waits for nothing but a
// mute. A digest is not waited for where the deadline, or the end of use, would come
// first.
Instant leaves_at(const RouteSettings& route, const NoticeRow& notice,
                  std::optional<Instant> send_until, Instant now, const Zone& zone);

// How long to wait after so many attempts that failed: doubled each time, from half a
// minute to half an hour, and a quarter more or less, so that all that failed at once
// does not come back at once. The same for the same telling, in every run.
std::chrono::seconds back_off(std::int64_t outbox, int attempts);

}  // namespace rimeward
