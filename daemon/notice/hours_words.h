// When and how rules look at the hours of a day that press nobody. Pure.

#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include "daemon/notice/situation.h"

namespace rimeward {

// True from the gardener's morning_from to their evening_by, which are 07:00 and 21:00
// where they are not set, by the garden's clock while it is light: what can wait is first
// told then. Without a night by the sun, by the clock alone.
bool is_garden_time(const Situation& situation, const std::optional<NightSpan>& night);

// True before noon by the garden's clock.
bool is_morning(const Situation& situation);

// The newest hour that has ended by `now` and has readings of the channel, by its
// beginning; nothing when there is none.
std::optional<Instant> newest_whole_hour(const PlaceView& view, Channel channel,
                                         Instant now);

// The view of that place; null when it is not among them.
const PlaceView* view_of(const Situation& situation, const Place* place);

// "1 hour", "9 hours": unlike Wording::span() never in another unit.
std::string hours_text(const Wording& wording, std::int64_t hours);

// The first place of kind `outdoors` that has readings by the hour; null: none.
const PlaceView* free_air(const Situation& situation);

}  // namespace rimeward
