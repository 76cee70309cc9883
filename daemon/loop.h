// The daemon's loop: the one thread that owns the App and its store. It takes arrivals in
// the order of the spool, ticks once a second, takes what the gardener said at the
// terminal, commits in groups, hands what is due to the courier, and between all that
// takes care of the store. Until the clock is believed it takes nothing: what arrives
// waits in the spool.

#pragma once

#include <atomic>
#include <chrono>
#include <cstddef>
#include <cstdint>
#include <deque>
#include <optional>
#include <string>
#include <vector>

#include "daemon/app.h"
#include "daemon/base/inbox.h"
#include "daemon/delivery/courier.h"
#include "daemon/ingest/flood_gate.h"
#include "daemon/ingest/spool.h"
#include "daemon/ingest/timekeeper.h"
#include "daemon/message.h"
#include "daemon/store/store_error.h"
#include "daemon/store_watch.h"
#include "daemon/upkeep.h"

namespace rimeward {

enum class StartOver {
  kNo,
  kImported,    // the store holds what did not come through the App
  kDamaged,     // the file is of no use: a store in memory is to stand in for it
  kFileIsBack,  // it is of use again
};

class Loop {
 public:
  struct Parts {
    const Garden& garden;
    const Zone& zone;
    App& app;
    Store& store;
    Spool& spool;
    Inbox<Message>& inbox;
    Courier& courier;
    FloodGate& gate;
    Timekeeper* timekeeper;  // none: the clock goes by the readings
    // Why `store` is only one in memory that stands in for the file, where it is.
    std::optional<StoreError> stood_in_for{};
  };
  // All parts must outlive the loop.
  Loop(Parts parts, LogSink log);

  // Waits until the clock is believed, takes what the spool holds, then runs until it is
  // given a Stop and all is committed. Throws SpoolError when the spool cannot be read
  // back.
  void run();

  // Changes as long as the loop makes progress; read by the watchdog from another thread.
  // Waiting for a slow medium counts, for some minutes: to be ended and started again
  // would make it no faster.
  std::uint64_t progress() const;

  // Why another App is to take over, for the thread that can make it so.
  StartOver wants_to_start_over() const {
    return start_over_.load(std::memory_order_relaxed);
  }
  // How the store fares, in a line. Any thread.
  std::string store_status() const { return watch_.status(); }
  // Only once run() has returned.
  bool is_all_committed() const {
    return !watch_.stands_in() && !watch_.fails(StoreWatch::Act::kCommit);
  }
  // Why the file is not to be opened by who takes over. Only once run() has returned.
  std::optional<StoreError> damage() const { return watch_.damage(); }

 private:
  void wait_for_clock();
  void put_aside(Message message);
  void take_up_what_waited();
  void hear(const Arrival& arrival);
  void run_until_stopped();
  void replay(std::uint64_t until);
  void take(const Message& message);
  void take_arrival(const Arrival& arrival);
  void turn(Arrival arrival);
  void take_actions();
  void take_excess(const std::vector<Excess>& excess);
  void tick();
  void take_care_of_store(bool to_end);
  void commit_if_due(bool must);
  void cut_spool();
  void hand_over_deliveries();
  void see_to_store();
  StartOver why_start_over();
  std::optional<Instant> now() const;

  Parts parts_;
  LogSink log_;
  Upkeep upkeep_;
  StoreWatch watch_;
  // While the clock is waited for: what cannot be read from the spool again.
  std::deque<Message> aside_;
  std::size_t aside_bytes_ = 0;
  std::uint64_t taken_;  // sequence of the last arrival taken
  std::chrono::steady_clock::time_point last_commit_;
  std::chrono::steady_clock::time_point last_tick_;
  std::chrono::steady_clock::time_point cared_at_;
  std::chrono::steady_clock::time_point gave_back_at_;
  bool spool_is_ill_ = false;
  bool stopping_ = false;
  std::atomic<std::uint64_t> progress_{0};
  // When the commit under way began, on the steady clock; zero: none is.
  std::atomic<std::chrono::steady_clock::duration> commit_began_{};
  std::atomic<StartOver> start_over_{StartOver::kNo};
};

}  // namespace rimeward
