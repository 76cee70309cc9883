#include "daemon/delivery/courier.h"

#include <chrono>
#include <condition_variable>
#include <deque>
#include <exception>
#include <mutex>
#include <optional>
#include <stop_token>
#include <thread>
#include <utility>

namespace rimeward {
namespace {

constexpr std::chrono::seconds kPatience{5};

}  // namespace

// One route with its queue and its thread.
class Courier::Lane {
 public:
  Lane(std::unique_ptr<Route> route, std::function<void(Delivered)> answer)
      : route_(std::move(route)),
        answer_(std::move(answer)),
        thread_([this](const std::stop_token& stop) { carry(stop); }) {}

  bool send(Dispatch dispatch) {
    {
      const std::lock_guard lock(mutex_);
      if (stopped_ || queue_.size() >= kQueue) return false;
      queue_.push_back(std::move(dispatch));
    }
    changed_.notify_all();
    return true;
  }

  void ask_to_stop() {
    const std::lock_guard lock(mutex_);
    stopped_ = true;
    queue_.clear();
    thread_.request_stop();
  }

  // REQUIRES: it was asked to stop.
  void end_by(std::chrono::steady_clock::time_point last) {
    if (!thread_.joinable()) return;
    {
      std::unique_lock lock(mutex_);
      changed_.wait_until(lock, last, [this] { return ended_; });
    }
    give_up_.request_stop();
    thread_.join();
  }

 private:
  void carry(const std::stop_token& stop) {
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

  Delivered delivered(const Dispatch& dispatch) {
    Delivered result;
    result.route = dispatch.route;
    for (const Telling& telling : dispatch.tellings)
      result.outbox.push_back(telling.outbox);
    try {
      Outcome outcome = route_->deliver(dispatch, give_up_.get_token());
      result.outcome = outcome.outcome;
      result.trouble = std::move(outcome.trouble);
    } catch (const std::exception& error) {
      result.outcome = Delivered::Outcome::kAgain;
      result.trouble = error.what();
    }
    return result;
  }

  const std::unique_ptr<Route> route_;
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

Courier::Courier(Routes routes, std::function<void(Delivered)> answer) {
  for (auto& [name, route] : routes)
    lanes_.emplace(name, std::make_unique<Lane>(std::move(route), answer));
}

Courier::~Courier() {
  stop();
}

bool Courier::send(Dispatch dispatch) {
  const auto lane = lanes_.find(dispatch.route);
  return lane != lanes_.end() && lane->second->send(std::move(dispatch));
}

void Courier::stop() {
  for (const auto& [name, lane] : lanes_)
    lane->ask_to_stop();
  const auto last = std::chrono::steady_clock::now() + kPatience;
  for (const auto& [name, lane] : lanes_)
    lane->end_by(last);
}

}  // namespace rimeward
