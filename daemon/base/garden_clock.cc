#include "daemon/base/garden_clock.h"

#include <algorithm>
#include <utility>

#include <fmt/format.h>

#include "sensors/iso_time.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;
using std::chrono::seconds;

constexpr Instant kReleased =
    std::chrono::sys_days{std::chrono::year{2026} / std::chrono::January / 1};
// Two clocks of whole seconds that run alike differ by one at times.
constexpr seconds kRounding = 1s;
constexpr seconds kSameSecond = 2s;
constexpr seconds kStep = 60s;  // what is less is no step but a clock being slewed
constexpr seconds kSensorAgrees = 5min;
constexpr seconds kBatteryAgrees = 60s;
// A network sets a clock within minutes.
constexpr seconds kStands = 10min;
constexpr seconds kFarthestBack = 6h;
constexpr seconds kSayAgain = 1h;

constexpr const char* kHeld =
    ": readings are kept and wait until it is set; give the board its network, or set it "
    "by hand";
constexpr const char* kNewStore =
    "set the clock, or if it is right, move the store's file away, which begins a new "
    "one, and start again";

bool are_near(Instant a, Instant b, seconds tolerance) {
  return std::chrono::abs(a - b) <= tolerance;
}

Instant zero_of(const ClockLook& look) {
  return look.system - look.uptime;
}

Course full_speed(Instant zero) {
  return {.zero = zero, .slow_from = 0s, .goal = zero};
}

// "3 days 5 h", "2 h", "1 min 15 s": the two largest units.
std::string in_words(seconds span) {
  constexpr struct {
    seconds unit;
    const char* one;
    const char* many;
  } kUnits[] = {
      {24h, "day", "days"}, {1h, "h", "h"}, {1min, "min", "min"}, {1s, "s", "s"}};
  std::string words;
  for (const auto& [unit, one, many] : kUnits) {
    const auto count = span / unit;
    if (count == 0 && words.empty() && unit > 1s) continue;
    const bool second = !words.empty();
    if (count > 0 || !second) {
      words += fmt::format("{}{} {}", second ? " " : "", count, count == 1 ? one : many);
    }
    if (second) break;
    span %= unit;
  }
  return words;
}

}  // namespace

Instant Course::time_at(seconds uptime) const {
  if (uptime <= slow_from) return zero + uptime;
  return std::max(goal + uptime, zero + uptime - (uptime - slow_from) / 2);
}

bool Course::is_slow_at(seconds uptime) const {
  return time_at(uptime) > goal + uptime;
}

GardenClock::GardenClock(Trust trust, std::optional<Instant> newest_stored,
                         const std::optional<Course>& kept)
    : trust_(trust),
      newest_stored_(newest_stored),
      earliest_(std::max(kReleased, newest_stored.value_or(kReleased))),
      course_(newest_stored ? kept : std::nullopt) {}

std::optional<Remark> GardenClock::look(const ClockLook& look) {
  note_standing(look);
  return course_ ? keep_time(look) : wait(look);
}

void GardenClock::told(Instant time, const ClockLook& at) {
  if (time >= earliest_ && are_near(time, at.system, kSensorAgrees)) {
    vouched_for_ = zero_of(at);
  }
}

bool GardenClock::wants_to_be_told() const {
  return !course_ || matter_ == Matter::kForward || matter_ == Matter::kBack;
}

Instant GardenClock::time_at(seconds uptime, Instant system) const {
  const Instant garden = course_->time_at(uptime);
  return are_near(garden, system, kSameSecond) ? system : garden;
}

// At the first look the clock may have stood since the board was switched on, and a
// process that is started on a board long up must not wait; but one that goes on with the
// garden's time can, should the clock have been stepped.
void GardenClock::note_standing(const ClockLook& look) {
  const Instant zero = zero_of(look);
  if (!standing_) {
    standing_since_ = course_ ? look.uptime : 0s;
    waiting_since_ = look.uptime;
  } else if (!are_near(zero, *standing_, kStep)) {
    standing_since_ = look.uptime;
    stepped_ = true;
  }
  standing_ = zero;
}

bool GardenClock::has_stood(const ClockLook& look) const {
  return look.uptime - standing_since_ >= kStands;
}

std::optional<std::string> GardenClock::why_confirmed(const ClockLook& look) const {
  if (trust_ == Trust::kGiven) return "it is trusted, as --clock says";
  if (look.synchronised) return "the system says that it is synchronised";
  if (look.battery_clock && are_near(*look.battery_clock, look.system, kBatteryAgrees)) {
    return "the board's battery clock agrees";
  }
  if (vouched_for_ && are_near(zero_of(look), *vouched_for_, kStep)) {
    return "a sensor's own time agrees";
  }
  return std::nullopt;
}

std::optional<Remark> GardenClock::wait(const ClockLook& look) {
  const std::string says = "the clock says " + format_utc(look.system);
  if (look.system < kReleased) {
    return say(Matter::kTooEarly, LogLevel::kWarning, says + ", which cannot be" + kHeld,
               look.uptime);
  }
  if (look.system < earliest_) return wait_for_store(look);
  if (const auto why = why_confirmed(look)) {
    follow(look);
    return over(LogLevel::kInfo, says + " and is believed: " + *why);
  }
  if (has_stood(look)) {
    follow(look);
    return over(LogLevel::kWarning, fmt::format("{} and is believed though nothing "
                                                "confirms it: it has stood for {}",
                                                says, in_words(kStands)));
  }
  return say(Matter::kUnconfirmed, LogLevel::kInfo,
             fmt::format("{} and nothing confirms it yet: readings are kept and wait "
                         "until it is synchronised, a sensor's own time agrees, or it "
                         "has stood for {}; if it is right, start with --clock trusted",
                         says, in_words(kStands)),
             look.uptime);
}

// The clock is behind what is stored: it is wrong, or it was before. The second where it
// is confirmed: then the garden's time goes on from what is stored, at half speed.
std::optional<Remark> GardenClock::wait_for_store(const ClockLook& look) {
  const seconds behind = *newest_stored_ - look.system;
  const std::string says =
      fmt::format("the clock says {}, and the store ends {} later, at {}",
                  format_utc(look.system), in_words(behind), format_utc(*newest_stored_));
  const auto why = why_confirmed(look);
  if (!why) {
    return say(Matter::kBehindStore, LogLevel::kWarning, says + kHeld, look.uptime);
  }
  if (behind > kFarthestBack) {
    return say(Matter::kBehindStore, LogLevel::kError,
               fmt::format("{}: readings are kept and wait, though {}; {}", says, *why,
                           kNewStore),
               look.uptime);
  }
  // All that has waited comes after what is stored, too.
  course_ = {.zero = *newest_stored_ - waiting_since_,
             .slow_from = waiting_since_,
             .goal = zero_of(look)};
  return say(Matter::kMakingGood, LogLevel::kWarning,
             fmt::format("{}; {}: the garden's time goes on from there at half speed "
                         "until the two agree, in about {}",
                         says, *why, in_words(behind * 2)),
             look.uptime);
}

std::optional<Remark> GardenClock::keep_time(const ClockLook& look) {
  const Instant zero = zero_of(look);
  if (course_->is_slow_at(look.uptime) && are_near(zero, course_->goal, kStep)) {
    return std::nullopt;
  }
  const Instant garden_zero = course_->time_at(look.uptime) - look.uptime;
  if (course_->zero != course_->goal) course_ = full_speed(garden_zero);
  const seconds ahead = zero - garden_zero;
  if (ahead > kStep) return step_forward(look, ahead);
  if (ahead < -kStep) return step_back(look, -ahead);
  if (std::chrono::abs(ahead) > kRounding) follow(look);
  if (matter_ == Matter::kNone) return std::nullopt;
  return over(LogLevel::kInfo, "the clock and the garden's time agree again");
}

std::optional<Remark> GardenClock::step_forward(const ClockLook& look, seconds by) {
  const std::string what = fmt::format("the clock was set forward by {}, to {}",
                                       in_words(by), format_utc(look.system));
  if (const auto why = why_confirmed(look)) {
    follow(look);
    return over(LogLevel::kInfo,
                fmt::format("{}: the garden's time follows, for {}", what, *why));
  }
  if (has_stood(look)) {
    follow(look);
    return over(LogLevel::kWarning,
                fmt::format("{}: the garden's time follows, for it has stood for {}, "
                            "though nothing confirms it",
                            what, in_words(kStands)));
  }
  return say(Matter::kForward, LogLevel::kWarning,
             fmt::format("{}, and nothing confirms it yet: the garden's time goes on by "
                         "the time that has passed, and follows when that is confirmed "
                         "or has stood for {}",
                         what, in_words(kStands)),
             look.uptime);
}

std::optional<Remark> GardenClock::step_back(const ClockLook& look, seconds by) {
  const std::string what = fmt::format(
      "the clock was set back by {}, to {}, and the garden's time is {}", in_words(by),
      format_utc(look.system), format_utc(course_->time_at(look.uptime)));
  if (by > kFarthestBack) {
    return say(Matter::kTooFarBack, LogLevel::kError,
               what + ": it never runs back, and goes on by the time that has passed; " +
                   kNewStore,
               look.uptime);
  }
  if (const auto why = why_confirmed(look)) {
    follow(look);
    return say(Matter::kMakingGood, LogLevel::kWarning,
               fmt::format("{}: it runs at half speed until the two agree, in about {}, "
                           "for {}",
                           what, in_words(by * 2), *why),
               look.uptime);
  }
  return say(Matter::kBack, LogLevel::kWarning,
             what +
                 ": it goes on by the time that has passed, for nothing confirms the "
                 "clock; set it, or if it is right, start with --clock trusted",
             look.uptime);
}

// Forward at once, back at half speed.
void GardenClock::follow(const ClockLook& look) {
  const Instant zero = zero_of(look);
  const Instant now = course_ ? course_->time_at(look.uptime) : look.system;
  if (now <= look.system) {
    course_ = full_speed(zero);
  } else {
    course_ = {.zero = now - look.uptime, .slow_from = look.uptime, .goal = zero};
  }
}

std::optional<Remark> GardenClock::say(Matter matter, LogLevel level, std::string text,
                                       seconds uptime) {
  const bool is_news = std::exchange(matter_, matter) != matter;
  const bool has_stepped = std::exchange(stepped_, false);
  if (!is_news && !has_stepped && uptime - said_at_ < kSayAgain) return std::nullopt;
  said_at_ = uptime;
  return Remark{level, std::move(text)};
}

std::optional<Remark> GardenClock::over(LogLevel level, std::string text) {
  matter_ = Matter::kNone;
  stepped_ = false;
  return Remark{level, std::move(text)};
}

}  // namespace rimeward
