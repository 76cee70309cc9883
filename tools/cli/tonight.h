// What is known of the night under way or to come, place by place: the answer behind
// `rimeward tonight`. Pure but for the store.

#pragma once

#include <chrono>
#include <optional>
#include <vector>

#include "daemon/climate/verification.h"
#include "tools/cli/verb.h"

namespace rimeward {

// The newest outlook of the night, with what was read since it was made.
struct Expected {
  OutlookRow outlook;
  Celsius low;  // as forecast, or the lowest since sunset once lower
  Celsius low10;
  Celsius low90;
};

struct PlaceTonight {
  const Place* place = nullptr;
  std::optional<Expected> expected;
  std::optional<Odds> odds;  // of going to keep-above or below; absent without one
  // The lowest reading since sunset; absent before sunset and without readings.
  std::optional<Celsius> lowest;
  std::optional<Instant> lowest_at;
  // When the air, on its way from the newest reading to the low, comes to keep-above:
  // after sunset only, by the square-root trend (daemon/climate/night_curve.h).
  std::optional<Instant> falls_below_at;
  std::optional<Instant> heard_at;  // the newest reading of the air
  int cover_layers = 0;
  std::vector<NoticeRow> notices;  // open ones of this place about the cold
  OutlookScores record;
};

struct TonightAnswer {
  std::chrono::sys_days night;  // the date of the morning
  // Absent where the sun does not rise or set.
  std::optional<Instant> first_outlook;
  std::optional<Instant> sunset;
  std::optional<Instant> sunrise;
  std::vector<PlaceTonight> places;  // in the order of the settings
};

// A night is "tonight" until two hours after the sunrise that ends it.
TonightAnswer answer_tonight(const Context& context);

}  // namespace rimeward
