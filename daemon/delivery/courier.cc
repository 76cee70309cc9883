#include "daemon/delivery/courier.h"

#include <chrono>
#include <exception>
#include <optional>
#include <utility>

namespace rimeward {
namespace {

constexpr std::chrono::seconds kPatience{5};

}  // namespace

Courier::Courier(Routes routes, std::function<void(Delivered)> answer)
    : routes_(std::move(routes)),
      answer_(std::move(answer)),
      thread_([this](const std::stop_token& stop) { carry(stop); }) {}

Courier::~Courier() {
  stop();
}

bool Courier::send(Dispatch dispatch) {
  {
    const std::lock_guard lock(mutex_);
    if (stopped_ || queue_.size() >= kQueue) return false;
    queue_.push_back(std::move(dispatch));
  }
  changed_.notify_all();
  return true;
}

void Courier::stop() {
  if (!thread_.joinable()) return;
  {
    std::unique_lock lock(mutex_);
    stopped_ = true;
    queue_.clear();
    thread_.request_stop();
    changed_.wait_for(lock, kPatience, [this] { return ended_; });
  }
  give_up_.request_stop();
  thread_.join();
}

void Courier::carry(const std::stop_token& stop) {
  for (;;) {
    std::optional<Dispatch> dispatch;
    {
      std::unique_lock lock(mutex_);
      changed_.wait(lock, stop, [this] { return !queue_.empty(); });
      if (stop.stop_requested()) break;
      dispatch = std::move(queue_.front());
      queue_.pop_front();
    }
    answer_(delivered(*dispatch));
  }
  const std::lock_guard lock(mutex_);
  ended_ = true;
  changed_.notify_all();
}

Delivered Courier::delivered(const Dispatch& dispatch) {
  Delivered result;
  result.outbox = dispatch.outbox;
  const auto route = routes_.find(dispatch.route);
  if (route == routes_.end()) {
    result.outcome = Delivered::Outcome::kNever;
    result.trouble = "no route " + dispatch.route + " in the settings any more";
    return result;
  }
  try {
    Outcome outcome = route->second->deliver(dispatch, give_up_.get_token());
    result.outcome = outcome.outcome;
    result.trouble = std::move(outcome.trouble);
  } catch (const std::exception& error) {
    result.outcome = Delivered::Outcome::kAgain;
    result.trouble = error.what();
  }
  return result;
}

}  // namespace rimeward
