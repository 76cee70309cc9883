// Carries notices to their routes on a thread of its own, because a route can hang.
//
// Thread-safe. It decides nothing: when to try again is the sender's business. What is
// still queued at a stop is dropped without an answer; it waits in the store's outbox.

#pragma once

#include <condition_variable>
#include <deque>
#include <functional>
#include <mutex>
#include <stop_token>
#include <thread>

#include "daemon/delivery/route.h"
#include "daemon/delivery/routes.h"

namespace rimeward {

class Courier {
 public:
  static constexpr std::size_t kQueue = 256;

  // `answer` is called on the courier's thread, once for each dispatch that was tried.
  Courier(Routes routes, std::function<void(Delivered)> answer);
  ~Courier();  // stops
  Courier(const Courier&) = delete;
  Courier& operator=(const Courier&) = delete;

  // False when the queue is full or the courier was stopped: send it again later.
  [[nodiscard]] bool send(Dispatch dispatch);

  // Lets the delivery under way finish for 5 s, then makes it give up.
  void stop();

 private:
  void carry(const std::stop_token& stop);
  Delivered delivered(const Dispatch& dispatch);

  const Routes routes_;
  const std::function<void(Delivered)> answer_;

  std::mutex mutex_;
  std::condition_variable_any changed_;
  // Guarded by mutex_.
  std::deque<Dispatch> queue_;
  bool stopped_ = false;
  bool ended_ = false;  // the thread has nothing under way any more

  std::stop_source give_up_;
  std::jthread thread_;
};

}  // namespace rimeward
