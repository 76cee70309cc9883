#include "daemon/loop.h"

#include <algorithm>
#include <exception>
#include <utility>
#include <variant>

#include <fmt/format.h>
#include <malloc.h>

#include "daemon/dispatching.h"
#include "daemon/store/store_error.h"
#include "sensors/escape.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;
using Steady = std::chrono::steady_clock;

constexpr auto kTickEvery = 1s;
constexpr std::size_t kReplayAtOnce = 1000;
// A store that fails is tried again after this, however much waits for it.
constexpr auto kRetryAfter = 10s;
// What was freed goes back to the board, for its other programs. By themselves the C
// library keeps what once held a season's sums or a day that was packed, and SQLite the
// pages of the days that a start reads.
constexpr auto kGiveBackEvery = 1min;
// A commit that takes longer is not one that goes on.
constexpr auto kPatienceWithStore = 10min;
// Of what is put aside while the clock is waited for.
constexpr std::size_t kMostAside = 10'000;
constexpr std::size_t kMostBytesAside = 2U << 20U;
constexpr std::size_t kLongestShown = 80;  // of a topic, in the log

}  // namespace

Loop::Loop(Parts parts, LogSink log)
    : parts_(parts),
      log_(std::move(log)),
      upkeep_(parts.store, parts.garden.store, log_),
      watch_(parts.garden.store.file, parts.stood_in_for, log_),
      taken_(parts.app.committed_sequence()),
      last_commit_(Steady::now()),
      last_tick_(Steady::now()),
      cared_at_(Steady::now()),
      gave_back_at_(Steady::now()) {}

std::uint64_t Loop::progress() const {
  const std::uint64_t progress = progress_.load(std::memory_order_relaxed);
  const auto began = commit_began_.load(std::memory_order_relaxed);
  if (began == Steady::duration::zero()) return progress;
  const auto lasts = Steady::now().time_since_epoch() - began;
  const auto seconds =
      std::clamp<Steady::duration>(lasts, 0s, kPatienceWithStore) / Steady::duration(1s);
  return progress + static_cast<std::uint64_t>(seconds);
}

void Loop::run() {
  if (parts_.timekeeper != nullptr) wait_for_clock();
  if (stopping_) return;  // all that arrived stays in the spool
  take_up_what_waited();
  see_to_store();
  commit_if_due(true);
  run_until_stopped();
  commit_if_due(true);
  take_care_of_store(true);
}

void Loop::wait_for_clock() {
  parts_.timekeeper->look();
  if (parts_.timekeeper->is_believed()) return;
  while (!parts_.timekeeper->is_believed() && !stopping_) {
    if (auto message = parts_.inbox.take_until(last_tick_ + kTickEvery)) {
      put_aside(*std::move(message));
    }
    if (Steady::now() - last_tick_ >= kTickEvery) {
      last_tick_ = Steady::now();
      parts_.timekeeper->look();
    }
    progress_.fetch_add(1, std::memory_order_relaxed);
  }
  const auto waiting = parts_.spool.last_sequence() - taken_;
  if (waiting == 0) return;
  log_(LogLevel::kInfo,
       fmt::format("messages that waited for the clock: {}, {}", waiting,
                   stopping_ ? "kept in the spool for the next start" : "taken now"));
}

// An arrival is in the spool as well, unless that could not be written.
void Loop::put_aside(Message message) {
  if (std::holds_alternative<Stop>(message)) {
    stopping_ = true;
    return;
  }
  if (const auto* arrival = std::get_if<Arrival>(&message)) {
    hear(*arrival);
    const std::size_t bytes = arrival->topic.size() + arrival->payload.size();
    if (aside_.size() >= kMostAside || aside_bytes_ + bytes > kMostBytesAside) return;
    aside_bytes_ += bytes;
  }
  aside_.push_back(std::move(message));
}

void Loop::take_up_what_waited() {
  replay(parts_.spool.last_sequence());
  for (const Message& message : std::exchange(aside_, {}))
    take(message);
  if (parts_.timekeeper != nullptr) parts_.timekeeper->report_undated();
}

// What a sensor's own clock says may speak for the board's.
void Loop::hear(const Arrival& arrival) {
  if (!parts_.timekeeper->wants_to_be_told()) return;
  if (const auto time = parts_.app.told_time(arrival)) {
    parts_.timekeeper->told(*time, arrival);
  }
}

void Loop::run_until_stopped() {
  while (!stopping_) {
    if (const auto message = parts_.inbox.take_until(last_tick_ + kTickEvery)) {
      take(*message);
    } else {
      replay(parts_.spool.last_sequence());  // what the inbox was too full to hold
    }
    if (Steady::now() - last_tick_ >= kTickEvery) tick();
    commit_if_due(false);
    start_over_ = why_start_over();
    progress_.fetch_add(1, std::memory_order_relaxed);
  }
}

// Takes arrivals from the spool up to `until`: at the start, and where the inbox was too
// full to hold them.
void Loop::replay(std::uint64_t until) {
  while (taken_ < until) {
    auto arrivals = parts_.spool.after(taken_, kReplayAtOnce);
    if (arrivals.empty()) return;
    for (Arrival& arrival : arrivals) {
      if (arrival.sequence > until) return;
      turn(std::move(arrival));
      commit_if_due(false);
    }
    progress_.fetch_add(1, std::memory_order_relaxed);
  }
}

// Nothing before the first reading, where the clock goes by the readings.
std::optional<Instant> Loop::now() const {
  if (parts_.timekeeper != nullptr) return parts_.timekeeper->now();
  return parts_.app.now();
}

void Loop::take(const Message& message) {
  if (const auto* arrival = std::get_if<Arrival>(&message)) return take_arrival(*arrival);
  if (std::holds_alternative<Stop>(message)) {
    // What is spooled by now is taken before the end, so that a stop leaves nothing over.
    replay(parts_.spool.last_sequence());
    take_excess(parts_.gate.rest(Steady::now()));
    stopping_ = true;
  }
  if (const auto at = now()) parts_.app.turn(message, *at);
}

void Loop::take_arrival(const Arrival& arrival) {
  if (arrival.sequence <= taken_) return;  // came with a replay
  replay(arrival.sequence - 1);
  turn(arrival);
}

void Loop::turn(Arrival arrival) {
  taken_ = arrival.sequence;
  if (parts_.timekeeper == nullptr) {
    const Instant at = parts_.app.time_told_by(arrival);
    parts_.app.turn(std::move(arrival), at);
    return;
  }
  hear(arrival);
  if (!parts_.timekeeper->date(arrival)) return;
  const Instant at = arrival.at;
  parts_.app.turn(std::move(arrival), at);
}

void Loop::tick() {
  last_tick_ = Steady::now();
  if (parts_.timekeeper != nullptr) {
    parts_.timekeeper->look();
    parts_.timekeeper->report_undated();
  }
  take(Tick{});
  take_excess(parts_.gate.due(last_tick_));
  take_actions();
  take_care_of_store(false);
  see_to_store();
  if (last_tick_ - gave_back_at_ >= kGiveBackEvery) {
    gave_back_at_ = last_tick_;
    parts_.store.give_back_memory();
    malloc_trim(0);
  }
}

// A store that takes nothing is left alone; what could not be done comes again.
void Loop::take_care_of_store(bool to_end) {
  using Act = StoreWatch::Act;
  const auto at = now();
  if (!at || watch_.fails(Act::kCommit)) return;
  if (watch_.fails(Act::kCare) && Steady::now() - cared_at_ < kRetryAfter) return;
  cared_at_ = Steady::now();
  try {
    to_end ? upkeep_.note_written(*at) : upkeep_.step(*at);
    watch_.done(Act::kCare);
  } catch (const StoreError& error) {
    watch_.failed(Act::kCare, error);
  }
}

// The App learns of the store from here alone: what it decides follows from what it is
// told.
void Loop::see_to_store() {
  const auto at = now();
  if (!at) return;
  if (watch_.stands_in()) {
    const auto moving = [this] { progress_.fetch_add(1, std::memory_order_relaxed); };
    watch_.look_for_file(Steady::now(), moving);
  }
  if (const auto news = watch_.news(*at)) parts_.app.turn(*news, *at);
}

StartOver Loop::why_start_over() {
  if (!watch_.stands_in()) {
    if (parts_.app.wants_to_start_over()) return StartOver::kImported;
    return watch_.damage() ? StartOver::kDamaged : StartOver::kNo;
  }
  // Whoever was told that the file failed is told that it is back before the word of it
  // goes with this store.
  const bool is_back = watch_.is_back() && !parts_.app.tells_of_store();
  return is_back ? StartOver::kFileIsBack : StartOver::kNo;
}

void Loop::take_excess(const std::vector<Excess>& excess) {
  for (const auto& [topic, why, count, to_log] : excess) {
    if (to_log > 0) {
      log_(LogLevel::kWarning,
           fmt::format(
               "{}: {} messages dropped: more than {} at once and then {} a "
               "second; see to what sends them",
               topic.empty() ? "many topics together" : escaped(topic, kLongestShown),
               to_log, FloodGate::kAtOnce, FloodGate::kEachSecond));
    }
    if (count > 0) take(Dropped{.topic = topic, .why = why, .count = count});
  }
}

void Loop::take_actions() {
  try {
    for (const ActionRow& action : parts_.store.actions_after(parts_.app.last_action())) {
      take(action);
    }
    watch_.done(StoreWatch::Act::kRead);
  } catch (const StoreError& error) {
    watch_.failed(StoreWatch::Act::kRead, error);
  }
}

void Loop::commit_if_due(bool must) {
  const auto since = Steady::now() - last_commit_;
  const bool due = parts_.app.has_changes() && since >= parts_.garden.store.commit_every;
  const bool wanted = parts_.app.wants_commit() || parts_.app.has_due_deliveries();
  const bool fails = watch_.fails(StoreWatch::Act::kCommit);
  const bool at_once = wanted && (!fails || since >= kRetryAfter);
  if (!must && !due && !at_once) return;
  last_commit_ = Steady::now();
  commit_began_ = last_commit_.time_since_epoch();
  try {
    parts_.app.commit();
    if (parts_.app.has_let_go()) watch_.lost_some();
    watch_.committed(Steady::now() - last_commit_);
    cut_spool();
  } catch (const StoreError& error) {
    watch_.failed(StoreWatch::Act::kCommit, error);
  }
  commit_began_ = Steady::duration::zero();
  hand_over_deliveries();
}

// What a store that stands in has taken is in no file: it stays.
void Loop::cut_spool() {
  if (watch_.stands_in()) return;
  try {
    parts_.spool.cut(parts_.app.committed_sequence());
    spool_is_ill_ = false;
  } catch (const SpoolError& error) {
    if (!std::exchange(spool_is_ill_, true)) log_(LogLevel::kError, error.what());
  }
}

// Also while the store is ill: better a notice that may come twice than none.
void Loop::hand_over_deliveries() {
  for (const Parcel& parcel : parts_.app.take_due_deliveries()) {
    Dispatch dispatch =
        dispatch_of(parcel, parts_.garden, parts_.app.wording(), parts_.store);
    if (parts_.courier.send(std::move(dispatch))) continue;
    Delivered refused{.route = parcel.route,
                      .outbox = {},
                      .outcome = Delivered::Outcome::kAgain,
                      .trouble = "the courier has too much to do"};
    for (const Parcel::Item& item : parcel.items)
      refused.outbox.push_back(item.row.id);
    take(refused);
  }
}

}  // namespace rimeward
