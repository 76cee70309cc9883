#include "daemon/upkeep.h"

#include <algorithm>
#include <chrono>
#include <fstream>
#include <string>
#include <utility>

#include <fmt/format.h>

namespace rimeward {
namespace {

using namespace std::chrono_literals;
using std::chrono::days;

// After midnight UTC, until the day is packed: what is late by less needs no packing
// again, and jumps are withdrawn by then.
constexpr auto kSettled = 2h;
// With nothing to do, the next look is at the next full one of these. A reading that
// comes later still does not have its day packed anew at once: that would wear the card.
constexpr auto kLookEvery = 1h;
// So many days to pack are worth a line in the log, and one each tenth of the way.
constexpr std::int64_t kManyDays = 7;

}  // namespace

std::optional<std::int64_t> bytes_written() {
  std::ifstream file("/proc/self/io");
  std::string name;
  std::int64_t value = 0;
  while (file >> name >> value) {
    if (name == "write_bytes:") return value;
  }
  return std::nullopt;
}

Upkeep::Upkeep(Store& store, const StoreSettings& settings, LogSink log,
               std::function<std::optional<std::int64_t>()> written)
    : store_(store),
      settings_(settings),
      log_(std::move(log)),
      written_(std::move(written)),
      written_before_(written_()) {}

void Upkeep::step(Instant now) {
  if (!noted_at_) noted_at_ = now;
  if (now - *noted_at_ >= kLookEvery) note_written(now);
  if (nothing_until_ && now < *nothing_until_) return;
  if (drop_some(now) || pack_some(now)) {
    nothing_until_.reset();
  } else {
    nothing_until_ = std::chrono::floor<std::chrono::hours>(now) + kLookEvery;
  }
}

void Upkeep::note_written(Instant now) {
  noted_at_ = now;
  const auto written = written_();
  if (!written || !written_before_ || *written <= *written_before_) return;
  store_.add_written(std::chrono::floor<days>(now), *written - *written_before_);
  written_before_ = written;
}

bool Upkeep::drop_some(Instant now) {
  if (!settings_.keep_readings) return false;
  return store_.drop_a_day(
      now - std::chrono::floor<std::chrono::seconds>(*settings_.keep_readings));
}

bool Upkeep::pack_some(Instant now) {
  const Instant until = now - kSettled;
  tell_progress(until);
  return store_.pack_some(until);
}

void Upkeep::tell_progress(Instant until) {
  const auto oldest = store_.packing().oldest_loose;
  const auto left =
      oldest ? (std::chrono::floor<days>(until) - std::chrono::floor<days>(*oldest)) / 24h
             : 0;
  if (!progress_) {
    if (left < kManyDays) return;
    progress_ = Progress{.days = left};
    log_(LogLevel::kInfo,
         fmt::format("packing the readings of {} days, oldest first, beside the daily "
                     "work; `rimeward store` says how far it is",
                     left));
  }
  const std::int64_t tenths =
      left <= 0 ? 10
                : std::clamp<std::int64_t>(
                      10 - (left * 10 + progress_->days - 1) / progress_->days, 0, 9);
  if (tenths > progress_->told) {
    progress_->told = tenths;
    log_(LogLevel::kInfo, tenths == 10 ? std::string("all days that are over are packed")
                                       : fmt::format("packed: {} %", tenths * 10));
  }
  if (left <= 0) progress_.reset();
}

}  // namespace rimeward
