// The daemon's loop: the one thread that owns the App and its store. It takes arrivals in
// the order of the spool, ticks once a second, takes what the gardener said at the
// terminal, commits in groups, and hands what is due to the courier.

#pragma once

#include <atomic>
#include <chrono>
#include <cstdint>
#include <functional>

#include "daemon/app.h"
#include "daemon/base/inbox.h"
#include "daemon/delivery/courier.h"
#include "daemon/ingest/spool.h"
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
  };
  // All parts must outlive the loop. `clock` is the system's.
  Loop(Parts parts, ClockSource source, std::function<Instant()> clock, LogSink log);

  // Takes what the spool still holds, then runs until it is given a Stop and all is
  // committed. Throws SpoolError when the spool cannot be read back.
  void run();

  // Grows as long as the loop makes progress; read by the watchdog from another thread.
  std::uint64_t progress() const { return progress_.load(std::memory_order_relaxed); }

 private:
  void replay(std::uint64_t until);
  void take(const Message& message);
  void take_arrival(const Arrival& arrival);
  void take_actions();
  void tick();
  void commit_if_due(bool must);
  void cut_spool();
  void hand_over_deliveries();
  Instant time_of(const Arrival& arrival) const;

  Parts parts_;
  ClockSource source_;
  std::function<Instant()> clock_;
  LogSink log_;
  std::uint64_t taken_;  // sequence of the last arrival taken
  std::chrono::steady_clock::time_point last_commit_;
  std::chrono::steady_clock::time_point last_tick_;
  bool store_is_ill_ = false;
  bool spool_is_ill_ = false;
  bool stopping_ = false;
  std::atomic<std::uint64_t> progress_{0};
};

}  // namespace rimeward
