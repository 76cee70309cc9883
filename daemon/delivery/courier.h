// Carries notices to their routes, each on a thread of its own, because a route can hang
// and must not hold up the others.
//
// Thread-safe. It decides nothing: when to try again is the sender's business. What is
// still queued at a stop is dropped without an answer; it waits in the store's outbox.

#pragma once

#include <functional>
#include <map>
#include <memory>
#include <string>

#include "daemon/delivery/route.h"
#include "daemon/delivery/routes.h"

namespace rimeward {

class Courier {
 public:
  static constexpr std::size_t kQueue = 256;  // dispatches a route

  // `answer` is called on the routes' threads, once for each dispatch that was tried.
  Courier(Routes routes, std::function<void(Delivered)> answer);
  ~Courier();  // stops
  Courier(const Courier&) = delete;
  Courier& operator=(const Courier&) = delete;

  // False when the route's queue is full, there is no such route, or the courier was
  // stopped: send it again later.
  [[nodiscard]] bool send(Dispatch dispatch);

  // Lets the deliveries under way finish for 5 s, then makes them give up.
  void stop();

 private:
  class Lane;
  std::map<std::string, std::unique_ptr<Lane>> lanes_;  // by route; constant once made
};

}  // namespace rimeward
