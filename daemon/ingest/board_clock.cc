#include "daemon/ingest/board_clock.h"

#include <cstdint>
#include <ctime>
#include <fstream>
#include <sstream>
#include <utility>

#include <fmt/format.h>
#include <sys/timex.h>

#include "daemon/ingest/note.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;
using std::chrono::seconds;

constexpr seconds kReadBatteryClockEvery = 60s;

// Asks without setting anything, which needs no privilege.
bool is_synchronised() {
  timex times{};
  return ::ntp_adjtime(&times) >= 0 && (times.status & STA_UNSYNC) == 0;
}

Instant instant_of(std::int64_t unix_seconds) {
  return Instant{seconds{unix_seconds}};
}

std::int64_t unix_seconds(Instant at) {
  return at.time_since_epoch().count();
}

}  // namespace

Instant system_time() {
  return std::chrono::floor<seconds>(std::chrono::system_clock::now());
}

seconds board_uptime() {
  timespec now{};
  ::clock_gettime(CLOCK_BOOTTIME, &now);
  return seconds{now.tv_sec};
}

std::string boot_id() {
  return read_note("/proc/sys/kernel/random/boot_id");
}

BoardClock::BoardClock(std::filesystem::path battery_clock)
    : file_(std::move(battery_clock)) {}

ClockLook BoardClock::look() {
  const seconds uptime = board_uptime();
  return {.system = system_time(),
          .uptime = uptime,
          .synchronised = is_synchronised(),
          .battery_clock = battery_clock_at(uptime)};
}

std::optional<Instant> BoardClock::battery_clock_at(seconds uptime) {
  if (!read_at_ || uptime - *read_at_ >= kReadBatteryClockEvery) {
    read_at_ = uptime;
    std::int64_t says = 0;
    const bool is_there = static_cast<bool>(std::ifstream(file_) >> says);
    battery_zero_ = is_there ? std::optional(instant_of(says) - uptime) : std::nullopt;
  }
  return battery_zero_ ? std::optional(*battery_zero_ + uptime) : std::nullopt;
}

CourseNote::CourseNote(const std::filesystem::path& folder, std::string boot)
    : file_(folder / "clock"), boot_(std::move(boot)) {}

std::optional<Course> CourseNote::read() const {
  std::istringstream line(read_note(file_));
  std::string boot;
  std::int64_t zero = 0;
  std::int64_t slow_from = 0;
  std::int64_t goal = 0;
  line >> boot >> zero >> slow_from >> goal;
  if (!line || boot != boot_) return std::nullopt;
  return Course{.zero = instant_of(zero),
                .slow_from = seconds{slow_from},
                .goal = instant_of(goal)};
}

bool CourseNote::write(const Course& course) const noexcept {
  try {
    if (boot_.empty()) return false;
    return write_note(file_,
                      fmt::format("{} {} {} {}", boot_, unix_seconds(course.zero),
                                  course.slow_from.count(), unix_seconds(course.goal)));
  } catch (...) {
    return false;
  }
}

}  // namespace rimeward
