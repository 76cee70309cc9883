// What this board's clocks say, asked of the kernel (Linux). The functions are
// thread-safe, BoardClock is not.

#pragma once

#include <chrono>
#include <filesystem>
#include <optional>
#include <string>

#include "daemon/base/garden_clock.h"
#include "sensors/units.h"

namespace rimeward {

Instant system_time();

// Since the board was switched on, its sleep included.
std::chrono::seconds board_uptime();

// Another one each time that the board is switched on; empty where it is not known.
std::string boot_id();

class BoardClock {
 public:
  // The battery clock is read once a minute at most: it may hang on a slow bus.
  explicit BoardClock(
      std::filesystem::path battery_clock = "/sys/class/rtc/rtc0/since_epoch");

  ClockLook look();

 private:
  std::optional<Instant> battery_clock_at(std::chrono::seconds uptime);

  std::filesystem::path file_;
  std::optional<std::chrono::seconds> read_at_;
  std::optional<Instant> battery_zero_;  // what it says of uptime 0
};

// The garden's course, kept in a folder for a restart of the process; it is read only as
// long as the board has been on since.
class CourseNote {
 public:
  CourseNote(const std::filesystem::path& folder, std::string boot);

  std::optional<Course> read() const;
  bool write(const Course& course) const noexcept;  // false: could not be written

 private:
  std::filesystem::path file_;
  std::string boot_;
};

}  // namespace rimeward
