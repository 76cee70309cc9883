// An MqttLink that keeps what arrives and what it says, for tests to wait on.

#pragma once

#include <chrono>
#include <condition_variable>
#include <functional>
#include <mutex>
#include <string>
#include <vector>

#include "daemon/ingest/mqtt_link.h"

namespace rimeward {

class Listener {
 public:
  explicit Listener(const Broker& broker) : link_(broker, handlers()) { link_.start(); }

  MqttLink& link() { return link_; }

  // Called on Paho's thread before an arrival is kept. Set before anything arrives.
  void before_each(std::function<void(const Arrival&)> look) {
    const std::lock_guard lock(mutex_);
    look_ = std::move(look);
  }

  // False when it has not come true within 20 s.
  bool wait(const std::function<bool(const std::vector<Arrival>&,
                                     const std::vector<LinkEvent>&)>& holds) {
    std::unique_lock lock(mutex_);
    return changed_.wait_for(lock, std::chrono::seconds{20},
                             [&] { return holds(arrivals_, events_); });
  }

  bool wait_for_event(LinkEvent::Kind kind, std::size_t count = 1) {
    return wait([&](const auto& /*arrivals*/, const std::vector<LinkEvent>& events) {
      std::size_t found = 0;
      for (const LinkEvent& event : events)
        found += event.kind == kind ? 1 : 0;
      return found >= count;
    });
  }

  bool wait_for_payload(const std::string& payload) {
    return wait([&](const std::vector<Arrival>& arrivals, const auto& /*events*/) {
      for (const Arrival& arrival : arrivals) {
        if (arrival.payload == payload) return true;
      }
      return false;
    });
  }

  std::vector<Arrival> arrivals() const {
    const std::lock_guard lock(mutex_);
    return arrivals_;
  }

  std::vector<LinkEvent> events() const {
    const std::lock_guard lock(mutex_);
    return events_;
  }

  std::string last_text(LinkEvent::Kind kind) const {
    const std::lock_guard lock(mutex_);
    std::string text;
    for (const LinkEvent& event : events_) {
      if (event.kind == kind) text = event.text;
    }
    return text;
  }

 private:
  MqttLink::Handlers handlers() {
    return {.clock = [] { return Instant{std::chrono::seconds{1'776'000'000}}; },
            .arrived = [this](const Arrival& arrival) { keep(arrival); },
            .event =
                [this](const LinkEvent& event) {
                  const std::lock_guard lock(mutex_);
                  events_.push_back(event);
                  changed_.notify_all();
                }};
  }

  void keep(const Arrival& arrival) {
    std::function<void(const Arrival&)> look;
    {
      const std::lock_guard lock(mutex_);
      look = look_;
    }
    if (look) look(arrival);
    const std::lock_guard lock(mutex_);
    arrivals_.push_back(arrival);
    changed_.notify_all();
  }

  mutable std::mutex mutex_;
  std::condition_variable changed_;
  // Guarded by mutex_.
  std::function<void(const Arrival&)> look_;
  std::vector<Arrival> arrivals_;
  std::vector<LinkEvent> events_;

  MqttLink link_;
};

}  // namespace rimeward
