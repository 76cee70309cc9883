// The daemon's loop: the one thread that owns the App and its store. It takes arrivals in
// the order of the spool, ticks once a second, takes what the gardener said at the
// terminal, commits in groups, and hands what is due to the courier. Until the clock is
// believed it takes nothing: what arrives waits in the spool.

#pragma once

#include <atomic>
#include <chrono>
#include <cstddef>
#include <cstdint>
#include <deque>
#include <optional>
#include <vector>

#include "daemon/app.h"
#include "daemon/base/inbox.h"
#include "daemon/delivery/courier.h"
#include "daemon/ingest/flood_gate.h"
#include "daemon/ingest/spool.h"
#include "daemon/ingest/timekeeper.h"
#include "daemon/message.h"

namespace rimeward {

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
  };
  // All parts must outlive the loop.
  Loop(Parts parts, LogSink log);

  // Waits until the clock is believed, takes what the spool holds, then runs until it is
  // given a Stop and all is committed. Throws SpoolError when the spool cannot be read
  // back.
  void run();

  // Grows as long as the loop makes progress; read by the watchdog from another thread.
  std::uint64_t progress() const { return progress_.load(std::memory_order_relaxed); }

  // App::wants_to_start_over(), for the thread that can make it so.
  bool wants_to_start_over() const { return start_over_.load(std::memory_order_relaxed); }

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
  void commit_if_due(bool must);
  void cut_spool();
  void hand_over_deliveries();
  std::optional<Instant> now() const;

  Parts parts_;
  LogSink log_;
  // While the clock is waited for: what cannot be read from the spool again.
  std::deque<Message> aside_;
  std::size_t aside_bytes_ = 0;
  std::uint64_t taken_;  // sequence of the last arrival taken
  std::chrono::steady_clock::time_point last_commit_;
  std::chrono::steady_clock::time_point last_tick_;
  bool store_is_ill_ = false;
  bool spool_is_ill_ = false;
  bool stopping_ = false;
  std::atomic<std::uint64_t> progress_{0};
  std::atomic<bool> start_over_{false};
};

}  // namespace rimeward
