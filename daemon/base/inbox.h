// The one door into the daemon's loop: other threads post, the loop takes.

#pragma once

#include <chrono>
#include <condition_variable>
#include <cstddef>
#include <deque>
#include <mutex>
#include <optional>
#include <thread>
#include <utility>

namespace rimeward {

// Thread-safe. Bounded, because a broker that replays a week of readings must not be able
// to take the board's memory.
template <class Message>
class Inbox {
 public:
  explicit Inbox(std::size_t capacity) : capacity_(capacity) {}

  // False, and the message dropped, when the inbox is full. Never blocks for long: the
  // mutex is held only to move one element.
  [[nodiscard]] bool post(Message message) {
    {
      const std::lock_guard lock(mutex_);
      if (queue_.size() == capacity_) return false;
      queue_.push_back(std::move(message));
    }
    posted_.notify_one();
    return true;
  }

  // The oldest message, or nothing once `deadline` has passed: a millisecond later than
  // either at most.
  [[nodiscard]] std::optional<Message> take_until(
      std::chrono::steady_clock::time_point deadline) {
    std::unique_lock lock(mutex_);
    if (queue_.empty()) {
      lock.unlock();
      std::this_thread::sleep_for(kGather);
      lock.lock();
    }
    if (!posted_.wait_until(lock, deadline, [this] { return !queue_.empty(); })) {
      return std::nullopt;
    }
    Message message = std::move(queue_.front());
    queue_.pop_front();
    return message;
  }

 private:
  // Messages come in throngs, and are taken faster than they come: a moment in which some
  // gather spares the poster to wake the taker for each.
  static constexpr std::chrono::milliseconds kGather{1};

  const std::size_t capacity_;

  std::mutex mutex_;
  std::condition_variable posted_;
  std::deque<Message> queue_;  // guarded by mutex_
};

}  // namespace rimeward
