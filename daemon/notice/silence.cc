#include "daemon/notice/silence.h"

#include <algorithm>
#include <chrono>

namespace rimeward {
namespace {

using namespace std::chrono_literals;

// Without a limit of its own, a sensor may miss four of its usual gaps, or three of those
// that one which reports irregularly leaves, within these.
constexpr int kMissedGaps = 4;
constexpr int kMissedLongGaps = 3;
constexpr std::chrono::seconds kShortest = 30min;
constexpr std::chrono::seconds kLongest = 6h;
// While its rhythm is not known yet: long enough for two readings of an hourly sensor.
constexpr std::chrono::seconds kUnknownRhythm = 2h;
// One sensor's silence waits for another that may soon show it to be the garden's, until
// it has lasted so many of its limits.
constexpr int kPatience = 2;

std::chrono::seconds limit(const SensorView& view) {
  if (view.sensor->silent_after) return *view.sensor->silent_after;
  if (!view.usual_gap) return kUnknownRhythm;
  const std::chrono::seconds irregular = view.long_gap.value_or(0s) * kMissedLongGaps;
  return std::clamp(std::max(*view.usual_gap * kMissedGaps, irregular), kShortest,
                    kLongest);
}

// Heard for so long after a sensor's last word, the others show that its silence is its
// own: it missed what it had to say while they got through.
std::chrono::seconds own_after(const SensorView& view) {
  const std::chrono::seconds most = limit(view);
  return std::clamp(2 * view.usual_gap.value_or(0s), most / 2, most);
}

Instant waited_since(const SensorView& view) {
  return std::max(view.last_heard, view.awaited_since);
}

// The garden's last word, or the newest sensor's first wait where none was ever heard.
Instant last_word(std::span<const SensorView> sensors) {
  Instant heard = Instant::min();
  Instant waited = Instant::min();
  for (const SensorView& view : sensors) {
    if (view.ever_heard) heard = std::max(heard, view.last_heard);
    waited = std::max(waited, view.last_heard);
  }
  return heard == Instant::min() ? waited : heard;
}

}  // namespace

Silence silence_among(std::span<const SensorView> sensors, Instant now) {
  Silence silence;
  const Instant newest = last_word(sensors);
  std::vector<const SensorView*> unclear;
  std::optional<Instant> next_limit;  // of those that may still speak in time
  for (const SensorView& view : sensors) {
    if (view.being_checked) continue;
    const Instant since = waited_since(view);
    if (now - since < limit(view)) {
      const Instant due = since + limit(view);
      next_limit = std::min(next_limit.value_or(due), due);
    } else if (newest - since >= own_after(view)) {
      silence.sensors.push_back({.view = &view, .is_alone = false});
    } else {
      unclear.push_back(&view);
    }
  }
  if (unclear.size() >= 2) {
    silence.garden_since = newest;
  } else if (unclear.size() == 1) {
    const SensorView& view = *unclear.front();
    const bool waits =
        next_limit && *next_limit <= waited_since(view) + kPatience * limit(view);
    if (!waits) silence.sensors.push_back({.view = &view, .is_alone = true});
  }
  return silence;
}

}  // namespace rimeward
