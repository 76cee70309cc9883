#include "daemon/loop.h"

#include <algorithm>
#include <exception>
#include <utility>
#include <variant>

#include <fmt/format.h>

#include "daemon/notice/notice_json.h"
#include "daemon/notice/notice_text.h"
#include "daemon/store/store_error.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;
using Steady = std::chrono::steady_clock;

constexpr auto kTickEvery = 1s;
constexpr std::size_t kReplayAtOnce = 1000;
// A store that fails is tried again after this, however much waits for it.
constexpr auto kRetryAfter = 10s;

}  // namespace

Loop::Loop(Parts parts, ClockSource source, std::function<Instant()> clock, LogSink log)
    : parts_(parts),
      source_(source),
      clock_(std::move(clock)),
      log_(std::move(log)),
      taken_(parts.app.committed_sequence()),
      last_commit_(Steady::now()),
      last_tick_(Steady::now()) {}

void Loop::run() {
  replay(parts_.spool.last_sequence());
  commit_if_due(true);
  while (!stopping_) {
    if (const auto message = parts_.inbox.take_until(last_tick_ + kTickEvery)) {
      take(*message);
    } else {
      replay(parts_.spool.last_sequence());  // what the inbox was too full to hold
    }
    if (Steady::now() - last_tick_ >= kTickEvery) tick();
    commit_if_due(false);
    progress_.fetch_add(1, std::memory_order_relaxed);
  }
  commit_if_due(true);
}

// Takes arrivals from the spool up to `until`: at the start, and where the inbox was too
// full to hold them.
void Loop::replay(std::uint64_t until) {
  while (taken_ < until) {
    const auto arrivals = parts_.spool.after(taken_, kReplayAtOnce);
    if (arrivals.empty()) return;
    for (const Arrival& arrival : arrivals) {
      if (arrival.sequence > until) return;
      parts_.app.turn(arrival, time_of(arrival));
      taken_ = arrival.sequence;
      commit_if_due(false);
    }
    progress_.fetch_add(1, std::memory_order_relaxed);
  }
}

Instant Loop::time_of(const Arrival& arrival) const {
  return source_ == ClockSource::kReadings ? parts_.app.time_told_by(arrival)
                                           : arrival.at;
}

void Loop::take(const Message& message) {
  if (const auto* arrival = std::get_if<Arrival>(&message)) return take_arrival(*arrival);
  const auto now =
      source_ == ClockSource::kReadings ? parts_.app.now() : std::optional(clock_());
  if (std::holds_alternative<Stop>(message)) {
    // What is spooled by now is taken before the end, so that a stop leaves nothing over.
    replay(parts_.spool.last_sequence());
    stopping_ = true;
  }
  if (now) parts_.app.turn(message, *now);
}

void Loop::take_arrival(const Arrival& arrival) {
  if (arrival.sequence <= taken_) return;  // came with a replay
  replay(arrival.sequence - 1);
  parts_.app.turn(arrival, time_of(arrival));
  taken_ = arrival.sequence;
}

void Loop::tick() {
  last_tick_ = Steady::now();
  take(Tick{});
  take_actions();
}

void Loop::take_actions() {
  try {
    for (const ActionRow& action : parts_.store.actions_after(parts_.app.last_action())) {
      take(action);
    }
  } catch (const StoreError& error) {
    if (!std::exchange(store_is_ill_, true)) log_(LogLevel::kError, error.what());
  }
}

void Loop::commit_if_due(bool must) {
  const auto since = Steady::now() - last_commit_;
  const bool due = parts_.app.has_changes() && since >= parts_.garden.store.commit_every;
  const bool at_once =
      parts_.app.wants_commit() && (!store_is_ill_ || since >= kRetryAfter);
  if (!must && !due && !at_once) return;
  last_commit_ = Steady::now();
  try {
    parts_.app.commit();
    cut_spool();
    if (std::exchange(store_is_ill_, false)) {
      log_(LogLevel::kInfo, "the store takes readings again; nothing was lost");
    }
    hand_over_deliveries();
  } catch (const StoreError& error) {
    if (std::exchange(store_is_ill_, true)) return;
    log_(LogLevel::kError,
         fmt::format("{}; readings wait in memory and the advice goes on", error.what()));
    hand_over_deliveries();
  }
}

void Loop::cut_spool() {
  try {
    parts_.spool.cut(parts_.app.committed_sequence());
    spool_is_ill_ = false;
  } catch (const SpoolError& error) {
    if (!std::exchange(spool_is_ill_, true)) log_(LogLevel::kError, error.what());
  }
}

// Also while the store is ill: better a notice that may come twice than none.
void Loop::hand_over_deliveries() {
  for (const auto& [row, notice] : parts_.app.take_due_deliveries()) {
    const auto place = std::ranges::find(parts_.garden.places, notice.place, &Place::id);
    const bool known = place != parts_.garden.places.end();
    const bool sent =
        parts_.courier.send({.outbox = row.id,
                             .route = row.route,
                             .event = row.event,
                             .notice = notice,
                             .place_name = known ? place->name : notice.place,
                             .json = notice_json(notice, parts_.garden, parts_.zone),
                             .text = notice_text(notice, parts_.zone)});
    if (!sent) {
      take(Delivered{row.id, Delivered::Outcome::kAgain,
                     "the courier has too much to do"});
    }
  }
}

}  // namespace rimeward
