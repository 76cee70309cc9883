// What is known of the night under way or to come, place by place: the answer behind
// `rimeward tonight`. Pure but for the store.

#pragma once

#include <chrono>
#include <optional>
#include <vector>

#include "daemon/climate/night_course.h"
#include "daemon/climate/verification.h"
#include "tools/cli/verb.h"

namespace rimeward {

// The newest outlook of the night, brought up to now by what was read since.
struct Expected {
  OutlookRow outlook;  // as issued, of the place without a cover
  // Under the cover that is on now.
  Celsius low;
  Celsius low10;
  Celsius low90;
  Instant low_at;                   // when it is expected, or was read
  std::vector<CoursePoint> course;  // of the air, in half hours from now on
};

// What the low would be under so many layers of fleece, put on by sunset.
struct UnderLayers {
  int layers = 0;
  Celsius low;
  Odds odds{};     // of going to keep-above or below
  int nights = 0;  // under them that showed what they add; 0: published figures
};

struct PlaceTonight {
  const Place* place = nullptr;
  std::optional<Expected> expected;
  std::optional<Odds> odds;  // of going to keep-above or below; absent without one
  // The lowest reading since sunset; absent before sunset and without readings.
  std::optional<Celsius> lowest;
  std::optional<Instant> lowest_at;
  // When the air is expected to come to keep-above, under the cover that is on now.
  std::optional<Instant> falls_below_at;
  // From none to as many as there are for the place; empty where there is no fleece or no
  // keep-above, and once the night is over.
  std::vector<UnderLayers> by_layers;
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
