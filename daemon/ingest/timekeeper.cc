#include "daemon/ingest/timekeeper.h"

#include <utility>

#include <fmt/format.h>

namespace rimeward {
namespace {

using namespace std::chrono_literals;

// What was under way when the board went off may be that much older than the newest that
// was stored.
constexpr std::chrono::seconds kUnderWay = 5min;

}  // namespace

Timekeeper::Timekeeper(GardenClock clock, Outside outside)
    : clock_(std::move(clock)), outside_(std::move(outside)) {}

void Timekeeper::look() {
  const ClockLook look = outside_.look();
  looked_at_ = look.uptime;
  if (const auto remark = clock_.look(look)) outside_.log(remark->level, remark->text);
  if (!clock_.is_believed() || kept_ == clock_.course()) return;
  kept_ = clock_.course();
  outside_.keep(*kept_);
}

void Timekeeper::told(Instant time, const Arrival& arrival) {
  if (!arrival.uptime) return;
  clock_.told(time, {.system = arrival.at, .uptime = *arrival.uptime});
}

Instant Timekeeper::now() const {
  const ClockLook look = outside_.look();
  return clock_.time_at(look.uptime, look.system);
}

bool Timekeeper::date(Arrival& arrival) {
  if (arrival.uptime) {
    arrival.at = clock_.time_at(*arrival.uptime, arrival.at);
    return true;
  }
  const Instant latest = clock_.course().time_at(looked_at_) + kUnderWay;
  if (arrival.at >= clock_.earliest() - kUnderWay && arrival.at <= latest) return true;
  ++undated_;
  return false;
}

void Timekeeper::report_undated() {
  const std::size_t count = std::exchange(undated_, 0);
  if (count == 0) return;
  outside_.log(
      LogLevel::kWarning,
      fmt::format("{} messages from before the board was switched off are left out: its "
                  "clock was wrong then, and how long it was off is not known",
                  count));
}

}  // namespace rimeward
