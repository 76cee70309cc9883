#include "daemon/listening.h"

#include <cerrno>
#include <random>
#include <set>
#include <stdexcept>
#include <string>
#include <string_view>
#include <utility>

#include <fmt/format.h>
#include <poll.h>
#include <unistd.h>

#include "daemon/base/inbox.h"
#include "daemon/heard_line.h"
#include "daemon/heard_topics.h"
#include "daemon/ingest/mqtt_link.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;
using std::chrono::steady_clock;

constexpr auto kLookEvery = 100ms;
constexpr std::size_t kMostWaiting = 10'000;

// Of at most 23 letters: an MQTT 3.1.1 broker need not take more (section 3.1.3.1).
std::string own_client_id() {
  return fmt::format("rimeward-first-{:08x}", std::random_device{}());
}

Broker looking_on(Broker broker) {
  broker.client_id = own_client_id();
  broker.status_topic.clear();
  broker.command_topic.clear();
  return broker;
}

// The reader's end of a pipe, as far as it matters whether it is still there.
class Output {
 public:
  explicit Output(int file) : file_(file) {}

  bool is_open() const {
    pollfd state{.fd = file_, .events = 0, .revents = 0};
    return !failed_ && (poll(&state, 1, 0) <= 0 || (state.revents & POLLERR) == 0);
  }

  void put(std::string_view text) {
    while (!text.empty() && !failed_) {
      const ssize_t written = write(file_, text.data(), text.size());
      if (written >= 0) {
        text.remove_prefix(static_cast<std::size_t>(written));
      } else if (errno != EINTR) {
        failed_ = true;
      }
    }
  }

 private:
  const int file_;
  bool failed_ = false;
};

// What the link's threads leave for this one, so that a reader who takes his time holds
// up none of Paho's.
class Telling {
 public:
  explicit Telling(int output) : output_(output) {}

  // --- on the link's threads

  void hear(Arrival arrival) {
    if (arrival.topic.size() > HeardTopics::kLongestTopic) return;
    arrival.payload.resize(
        std::min(arrival.payload.size(), HeardTopics::kLongestPayload));
    post({.kind = HeardLine::Kind::kMessage,
          .topic = std::move(arrival.topic),
          .payload = std::move(arrival.payload),
          .retained = arrival.retained});
  }

  void note(LinkEvent event) {
    if (event.kind == LinkEvent::Kind::kConnected) {
      post({.kind = HeardLine::Kind::kConnected});
    } else {
      post({.kind = HeardLine::Kind::kTrouble, .trouble = std::move(event.text)});
    }
  }

  // --- on the caller's

  // Tells what there is, or waits a little for it.
  void tell_some() {
    const auto line = waiting_.take_until(steady_clock::now() + kLookEvery);
    if (line) tell(*line);
  }

  // A broker that says nothing at all is trouble, too.
  void finish(const std::string& address, std::chrono::seconds span) {
    if (connected_ || told_trouble_) return;
    tell({.kind = HeardLine::Kind::kTrouble,
          .trouble = fmt::format("{}: no answer within {} s; check the address, or "
                                 "listen for longer",
                                 address, span.count())});
  }

  bool is_heard() const { return output_.is_open(); }
  bool was_connected() const { return connected_; }

 private:
  void post(HeardLine line) {
    // A flood: what is lost of it comes again, or is one of too many topics.
    static_cast<void>(waiting_.post(std::move(line)));
  }

  void tell(const HeardLine& line) {
    if (line.kind == HeardLine::Kind::kTrouble) {
      told_trouble_ = true;
      return output_.put(to_line(line));
    }
    // Retained messages come before the word that all filters are subscribed to.
    if (!std::exchange(connected_, true)) {
      output_.put(to_line({.kind = HeardLine::Kind::kConnected}));
    }
    if (line.kind == HeardLine::Kind::kConnected) return;
    if (topics_.size() == kMostTopicsTold && !topics_.contains(line.topic)) return;
    topics_.insert(line.topic);
    output_.put(to_line(line));
  }

  Inbox<HeardLine> waiting_{kMostWaiting};
  // The caller's thread only.
  Output output_;
  bool connected_ = false;
  bool told_trouble_ = false;
  std::set<std::string> topics_;
};

MqttLink::Handlers handlers_of(Telling& telling) {
  return {.clock =
              [] {
                return std::chrono::floor<std::chrono::seconds>(
                    std::chrono::system_clock::now());
              },
          .arrived = [&](Arrival arrival) { telling.hear(std::move(arrival)); },
          .event = [&](LinkEvent event) { telling.note(std::move(event)); }};
}

}  // namespace

bool listen_in(const Broker& broker, std::chrono::seconds span,
               const std::function<bool()>& stop, int output) {
  const auto until = steady_clock::now() + span;
  Telling telling(output);
  try {
    MqttLink link(looking_on(broker), handlers_of(telling));
    link.start();
    while (steady_clock::now() < until && telling.is_heard() && !stop())
      telling.tell_some();
    link.stop();
    if (steady_clock::now() >= until) telling.finish(broker.address, span);
  } catch (const std::runtime_error& error) {
    telling.note({LinkEvent::Kind::kRefused, error.what()});
    telling.tell_some();
  }
  return telling.was_connected();
}

}  // namespace rimeward
