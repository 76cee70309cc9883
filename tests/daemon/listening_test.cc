#include "daemon/listening.h"

#include <algorithm>
#include <array>
#include <atomic>
#include <chrono>
#include <csignal>
#include <optional>
#include <set>
#include <string>
#include <thread>
#include <vector>

#include <arpa/inet.h>
#include <doctest/doctest.h>
#include <netinet/in.h>
#include <sys/socket.h>
#include <unistd.h>

#include "daemon/heard_line.h"
#include "daemon/heard_topics.h"
#include "tests/support/broker.h"
#include "tests/support/listener.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;
using Kind = HeardLine::Kind;

Broker nobody(const std::string& address) {
  Broker broker;
  broker.address = address;
  broker.listen = {"#"};
  return broker;
}

// Listens in a thread of its own, into a pipe that this reads line by line.
class Eavesdropper {
 public:
  explicit Eavesdropper(const Broker& broker, std::chrono::seconds span = 60s) {
    std::signal(SIGPIPE, SIG_IGN);
    REQUIRE(pipe(ends_.data()) == 0);
    thread_ = std::jthread([this, broker, span] {
      connected_ = listen_in(
          broker, span, [this] { return stop_.load(); }, ends_[1]);
      close(ends_[1]);
    });
  }
  ~Eavesdropper() {
    stop_ = true;
    if (ends_[0] >= 0) close(ends_[0]);
  }
  Eavesdropper(const Eavesdropper&) = delete;
  Eavesdropper& operator=(const Eavesdropper&) = delete;

  // The next line; nothing at the end.
  std::optional<HeardLine> next() {
    std::string line;
    for (char letter = 0; read(ends_[0], &letter, 1) == 1;) {
      if (letter != '\n') {
        line += letter;
        continue;
      }
      auto heard = heard_line_from_text(line);
      REQUIRE(heard);
      return *heard;
    }
    return std::nullopt;
  }

  void stop() { stop_ = true; }
  void close_reader() {
    close(ends_[0]);
    ends_[0] = -1;
  }
  void join() { thread_.join(); }
  bool connected() const { return connected_; }

 private:
  std::array<int, 2> ends_{};
  std::atomic<bool> stop_ = false;
  std::atomic<bool> connected_ = false;
  std::jthread thread_;
};

TEST_CASE("what a broker carries is told, kept messages too, and leaves no trace") {
  const TestBroker broker;
  Listener sensor(broker.settings("sensor"));
  REQUIRE(sensor.wait_for_event(LinkEvent::Kind::kConnected));
  const std::string bytes("\0\xff 3.1\n", 7);
  REQUIRE(sensor.link().publish("garden/kept", bytes, true, 10s));
  const std::string longest(HeardTopics::kLongestPayload + 10, 'x');

  Eavesdropper ear(nobody(broker.address()));
  CHECK(ear.next() == HeardLine{.kind = Kind::kConnected});
  std::vector<HeardLine> heard;
  bool published = false;
  while (const auto line = ear.next()) {
    heard.push_back(*line);
    if (line->topic == "garden/kept" && !published) {
      published = true;
      const std::string too_long(HeardTopics::kLongestTopic + 1, 't');
      REQUIRE(sensor.link().publish(too_long, "1", false, 10s));
      REQUIRE(sensor.link().publish("garden/long", longest, false, 10s));
      REQUIRE(sensor.link().publish("garden/live", "2.5", false, 10s));
    }
    if (line->topic == "garden/live") ear.stop();
  }
  ear.join();
  CHECK(ear.connected());
  const auto told = [&](std::string topic, std::string payload, bool retained) {
    return std::ranges::count(heard, HeardLine{.kind = Kind::kMessage,
                                               .topic = std::move(topic),
                                               .payload = std::move(payload),
                                               .retained = retained});
  };
  CHECK(told("garden/kept", bytes, true) == 1);
  CHECK(told("garden/long", longest.substr(0, HeardTopics::kLongestPayload), false) == 1);
  CHECK(told("garden/live", "2.5", false) == 1);
  for (const HeardLine& line : heard)
    CHECK(line.topic.size() <= HeardTopics::kLongestTopic);

  // Nobody who listens now is told that somebody else came or went.
  Eavesdropper later(nobody(broker.address()));
  CHECK(later.next() == HeardLine{.kind = Kind::kConnected});
  REQUIRE(sensor.link().publish("garden/end", "1", false, 10s));
  while (const auto line = later.next()) {
    CHECK(line->topic.find("first") == std::string::npos);
    if (line->topic == "garden/end") later.stop();
  }
}

TEST_CASE("a broker that refuses or is not there is told first") {
  const TestBroker broker({.user = "rimeward", .password = "secret"});
  Eavesdropper refused(nobody(broker.address()));
  auto line = refused.next();
  REQUIRE(line);
  CHECK(line->kind == Kind::kTrouble);
  CHECK(line->trouble.find("refused the user name or password") != std::string::npos);
  refused.stop();
  refused.join();
  CHECK_FALSE(refused.connected());

  Eavesdropper absent(nobody("mqtt://127.0.0.1:9"));
  line = absent.next();
  REQUIRE(line);
  CHECK(line->trouble.find("could not connect") != std::string::npos);

  Eavesdropper wrong(nobody("no such scheme://"));
  line = wrong.next();
  REQUIRE(line);
  CHECK(line->kind == Kind::kTrouble);
}

TEST_CASE("a broker that says nothing is told when the time is over") {
  // Something takes the connection and never answers.
  const int silent = socket(AF_INET, SOCK_STREAM, 0);
  sockaddr_in address{};
  address.sin_family = AF_INET;
  address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
  REQUIRE(bind(silent, reinterpret_cast<sockaddr*>(&address), sizeof address) == 0);
  REQUIRE(listen(silent, 1) == 0);
  socklen_t length = sizeof address;
  REQUIRE(getsockname(silent, reinterpret_cast<sockaddr*>(&address), &length) == 0);
  Eavesdropper ear(nobody("mqtt://127.0.0.1:" + std::to_string(ntohs(address.sin_port))),
                   1s);
  const auto line = ear.next();
  REQUIRE(line);
  CHECK(line->trouble.find("no answer within 1 s") != std::string::npos);
  CHECK_FALSE(ear.next().has_value());
  close(silent);
}

TEST_CASE("listening ends when its time is over and when nobody reads any more") {
  const TestBroker broker;
  const auto begin = std::chrono::steady_clock::now();
  Eavesdropper brief(nobody(broker.address()), 1s);
  while (brief.next()) {
  }
  brief.join();
  Eavesdropper unread(nobody(broker.address()));
  CHECK(unread.next() == HeardLine{.kind = Kind::kConnected});
  unread.close_reader();
  unread.join();
  CHECK(std::chrono::steady_clock::now() - begin < 50s);
}

TEST_CASE("of a flood of topics so many are told and no more") {
  const TestBroker broker;
  Listener sensor(broker.settings("sensor"));
  REQUIRE(sensor.wait_for_event(LinkEvent::Kind::kConnected));
  Eavesdropper ear(nobody(broker.address()));
  CHECK(ear.next() == HeardLine{.kind = Kind::kConnected});
  std::jthread flood([&] {
    for (std::size_t i = 0; i < kMostTopicsTold + 50; ++i)
      static_cast<void>(
          sensor.link().publish("garden/" + std::to_string(i), "1", false, 10s));
    static_cast<void>(sensor.link().publish("garden/0", "end", false, 10s));
  });
  std::set<std::string> topics;
  while (const auto line = ear.next()) {
    topics.insert(line->topic);
    if (line->payload == "end") ear.stop();
  }
  CHECK(topics.size() == kMostTopicsTold);
}

}  // namespace
}  // namespace rimeward
