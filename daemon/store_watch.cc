#include "daemon/store_watch.h"

#include <algorithm>
#include <bit>
#include <utility>

#include <fmt/format.h>

namespace rimeward {
namespace {

constexpr std::uint32_t kRemembered = (1U << 10U) - 1;  // ten commits
constexpr const char* kWell = "the store takes readings";

}  // namespace

StoreWatch::StoreWatch(const std::string& file, std::optional<StoreError> stood_in_for,
                       LogSink log)
    : log_(std::move(log)), stood_in_for_(std::move(stood_in_for)), status_(kWell) {
  if (!stood_in_for_) return;
  awaited_.emplace(file, stood_in_for_->fault());
  trouble(stood_in_for_->fault(),
          fmt::format("{}; advice goes on from a copy in memory, readings wait in the "
                      "spool, and the file is looked at every minute",
                      stood_in_for_->what()));
}

void StoreWatch::failed(Act act, const StoreError& error) {
  const bool is_known = !all_done();
  fails_.at(static_cast<std::size_t>(act)) = true;
  if (stands_in()) {
    if (!is_known) log_(LogLevel::kError, error.what());
    return;
  }
  if (error.fault() == StoreFault::kDamaged || error.fault() == StoreFault::kNoDatabase) {
    damage_ = error;
  }
  if (is_known && trouble_ && trouble_->fault == error.fault()) return;
  trouble(error.fault(),
          act == Act::kRead
              ? error.what()
              : fmt::format("{}; readings wait in memory and the advice goes on",
                            error.what()));
}

void StoreWatch::done(Act act) {
  fails_.at(static_cast<std::size_t>(act)) = false;
  if (stands_in() || !all_done() || !trouble_) return;
  if (trouble_->fault == StoreFault::kSlow) {
    if (slow_ == 0) well("the store is quick again");
    return;
  }
  well(lost_some_ ? "the store takes readings again; the oldest that waited were let go"
                  : "the store takes readings again; nothing was lost");
}

void StoreWatch::committed(Steady::duration in) {
  slow_ = (slow_ << 1U | (in > kSlow ? 1U : 0U)) & kRemembered;
  done(Act::kCommit);
  if (stands_in() || trouble_ || std::popcount(slow_) < kSlowOnes) return;
  trouble(
      StoreFault::kSlow,
      fmt::format("the store is slow: the last commit took {} s; a card that gets "
                  "slow may be dying, make a copy with rimeward backup on another one",
                  std::chrono::floor<std::chrono::seconds>(in).count()));
}

bool StoreWatch::all_done() const {
  return std::ranges::none_of(fails_, [](bool fails) { return fails; });
}

// The same trouble by another name lasts since it began.
void StoreWatch::trouble(StoreFault fault, const std::string& words) {
  log_(fault == StoreFault::kSlow ? LogLevel::kWarning : LogLevel::kError, words);
  say(words);
  if (!trouble_) {
    trouble_ = StoreTrouble{.stands_in = stands_in()};
    is_dated_ = false;
  }
  trouble_->fault = fault;
  is_told_ = false;
}

void StoreWatch::well(const std::string& words) {
  log_(LogLevel::kInfo, words);
  say(kWell);
  trouble_.reset();
  lost_some_ = false;
  is_told_ = false;
}

std::optional<StoreError> StoreWatch::damage() const {
  if (!stands_in()) return damage_;
  const bool lasts = stood_in_for_->fault() == StoreFault::kDamaged ||
                     stood_in_for_->fault() == StoreFault::kNoDatabase;
  return lasts && !is_back_ ? stood_in_for_ : std::nullopt;
}

void StoreWatch::look_for_file(Steady::time_point at,
                               const std::function<void()>& moving) {
  const bool is_back = awaited_->is_back(at, moving);
  if (std::exchange(is_back_, is_back) == is_back) return;
  if (is_back) {
    well("the store can be opened again");
  } else {
    trouble(stood_in_for_->fault(), stood_in_for_->what());
  }
}

std::optional<StoreState> StoreWatch::news(Instant now) {
  if (is_told_) return std::nullopt;
  is_told_ = true;
  if (trouble_ && !std::exchange(is_dated_, true)) trouble_->since = now;
  return StoreState{trouble_};
}

std::string StoreWatch::status() const {
  const std::lock_guard lock(mutex_);
  return status_;
}

void StoreWatch::say(std::string status) {
  const std::lock_guard lock(mutex_);
  status_ = std::move(status);
}

}  // namespace rimeward
