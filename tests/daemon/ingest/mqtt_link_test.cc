#include "daemon/ingest/mqtt_link.h"

#include <atomic>
#include <fstream>
#include <thread>

#include <arpa/inet.h>
#include <doctest/doctest.h>
#include <netinet/in.h>
#include <sys/socket.h>
#include <unistd.h>

#include "sensors/decoders.h"
#include "tests/support/broker.h"
#include "tests/support/listener.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;
using Kind = LinkEvent::Kind;

constexpr auto kPatience = 10s;

bool says(const std::string& text, const std::string& words) {
  return text.find(words) != std::string::npos;
}

// Another client on the same broker: a sensor, or somebody looking on.
class Other : public Listener {
 public:
  Other(const TestBroker& broker, std::vector<std::string> listen)
      : Listener(settings(broker, std::move(listen))) {
    REQUIRE(wait_for_event(Kind::kConnected));
  }
  bool publish(const std::string& topic, const std::string& payload,
               bool retained = false) {
    return link().publish(topic, payload, retained, kPatience);
  }

 private:
  static Broker settings(const TestBroker& broker, std::vector<std::string> listen) {
    Broker mine = broker.settings("other");
    mine.status_topic = "other/status";
    mine.listen = std::move(listen);
    return mine;
  }
};

TEST_CASE("a message arrives whole, with its topic, time and packet id") {
  const TestBroker broker;
  Listener listener(broker.settings("rimeward"));
  REQUIRE(listener.wait_for_event(Kind::kConnected));
  CHECK(listener.link().connected());
  Other sensor(broker, {"nothing"});

  const std::string bytes("\0\xff 3.1\n", 7);
  REQUIRE(sensor.publish("garden/yard/climate", bytes));
  REQUIRE(listener.wait_for_payload(bytes));
  const Arrival arrival = listener.arrivals().front();
  CHECK(arrival.topic == "garden/yard/climate");
  CHECK(arrival.at == Instant{1'776'000'000s});
  CHECK(arrival.payload_bytes == 7);
  CHECK(arrival.qos == 1);
  CHECK_FALSE(arrival.retained);
  CHECK_FALSE(arrival.redelivered);
  CHECK(arrival.packet_id > 0);
}

TEST_CASE("two equal messages have two packet ids") {
  const TestBroker broker;
  Listener listener(broker.settings("rimeward"));
  REQUIRE(listener.wait_for_event(Kind::kConnected));
  Other sensor(broker, {"nothing"});
  REQUIRE(sensor.publish("garden/yard/climate", "3.1"));
  REQUIRE(sensor.publish("garden/yard/climate", "3.1"));
  REQUIRE(listener.wait(
      [](const auto& arrivals, const auto& /*events*/) { return arrivals.size() == 2; }));
  CHECK(listener.arrivals()[0].packet_id != listener.arrivals()[1].packet_id);
}

TEST_CASE("of a payload that is too large only the beginning is kept") {
  const TestBroker broker;
  Listener listener(broker.settings("rimeward"));
  REQUIRE(listener.wait_for_event(Kind::kConnected));
  Other sensor(broker, {"nothing"});
  REQUIRE(sensor.publish("garden/a", std::string(kLargestPayload, 'a')));
  REQUIRE(sensor.publish("garden/b", std::string(kLargestPayload + 1, 'b')));
  REQUIRE(listener.wait_for_payload(std::string(100, 'b')));
  CHECK(listener.arrivals()[0].payload.size() == kLargestPayload);
  CHECK(listener.arrivals()[1].payload_bytes == kLargestPayload + 1);
}

TEST_CASE("messages sent while the broker restarts and we are away all arrive") {
  TestBroker broker;
  Listener listener(broker.settings("rimeward"));
  REQUIRE(listener.wait_for_event(Kind::kConnected));
  Other sensor(broker, {"nothing"});
  REQUIRE(sensor.publish("garden/a", "before"));
  REQUIRE(listener.wait_for_payload("before"));

  broker.stop();
  REQUIRE(listener.wait_for_event(Kind::kLost));
  CHECK_FALSE(listener.link().connected());
  CHECK_FALSE(sensor.publish("garden/a", "nobody hears it"));
  broker.start();
  REQUIRE(sensor.wait_for_event(Kind::kConnected, 2));
  REQUIRE(sensor.publish("garden/a", "after"));
  REQUIRE(listener.wait_for_payload("after"));
  CHECK(listener.wait_for_event(Kind::kConnected, 2));
}

TEST_CASE(
    "a session outlives the program: what was sent meanwhile arrives at its start") {
  const TestBroker broker;
  Other sensor(broker, {"nothing"});
  {
    Listener listener(broker.settings("rimeward"));
    REQUIRE(listener.wait_for_event(Kind::kConnected));
  }
  REQUIRE(sensor.publish("garden/a", "while it was away"));
  Listener listener(broker.settings("rimeward"));
  CHECK(listener.wait_for_payload("while it was away"));
}

TEST_CASE("a broker that is absent at the start is waited for") {
  TestBroker broker;
  broker.stop();
  Listener listener(broker.settings("rimeward"));
  REQUIRE(listener.wait_for_event(Kind::kUnreachable));
  CHECK(listener.last_text(Kind::kUnreachable) ==
        broker.address() +
            ": could not connect; waiting for the broker (if it is "
            "running, check [broker] address)");
  broker.start();
  CHECK(listener.wait_for_event(Kind::kConnected));
  CHECK(listener.events().size() == 2);  // the trouble was said once
}

TEST_CASE("a wrong password is named, and a mended one is taken without a restart") {
  const TestBroker broker({.user = "gate", .password = "right one"});
  Broker settings = broker.settings("rimeward");
  settings.password_file = (broker.folder() / "mine").string();
  std::ofstream(settings.password_file) << "wrong one\n";
  Listener listener(settings);
  REQUIRE(listener.wait_for_event(Kind::kRefused));
  CHECK(listener.last_text(Kind::kRefused) ==
        broker.address() +
            ": refused the user name or password (return code 5); check "
            "[broker] user and password_file");
  std::ofstream(settings.password_file) << "right one\n";
  CHECK(listener.wait_for_event(Kind::kConnected));
  for (const LinkEvent& event : listener.events()) {
    CHECK_FALSE(says(event.text, "wrong one"));
    CHECK_FALSE(says(event.text, "right one"));
  }
}

TEST_CASE("a password file that cannot be read is named with its remedy") {
  const TestBroker broker({.user = "gate", .password = "right one"});
  Broker settings = broker.settings("rimeward");
  settings.password_file = (broker.folder() / "missing").string();
  Listener listener(settings);
  REQUIRE(listener.wait_for_event(Kind::kRefused));
  CHECK(says(listener.last_text(Kind::kRefused), settings.password_file));
  CHECK(says(listener.last_text(Kind::kRefused), "No such file"));
}

TEST_CASE("a copy kept by the broker is marked as retained, a live one is not") {
  const TestBroker broker;
  Other sensor(broker, {"nothing"});
  REQUIRE(sensor.publish("garden/a", "kept", true));
  Listener listener(broker.settings("rimeward"));
  REQUIRE(listener.wait_for_payload("kept"));
  REQUIRE(sensor.publish("garden/a", "live", true));
  REQUIRE(listener.wait_for_payload("live"));
  CHECK(listener.arrivals()[0].retained);
  CHECK_FALSE(listener.arrivals()[1].retained);
}

TEST_CASE(
    "a message that could not be acknowledged comes again with the same packet id") {
  TestBroker broker;
  Listener listener(broker.settings("rimeward"));
  REQUIRE(listener.wait_for_event(Kind::kConnected));
  std::atomic<bool> first = true;
  listener.before_each([&](const Arrival& arrival) {
    if (arrival.topic == "garden/a" && first.exchange(false)) broker.stop();
  });
  {
    // Paho has one network thread for all clients: this one must not wait for an answer.
    Other sensor(broker, {"nothing"});
    static_cast<void>(sensor.link().publish("garden/a", "once", false, 0ms));
    REQUIRE(listener.wait_for_payload("once"));
  }
  broker.start();
  REQUIRE(listener.wait(
      [](const auto& arrivals, const auto& /*events*/) { return arrivals.size() >= 2; }));
  const auto arrivals = listener.arrivals();
  CHECK_FALSE(arrivals[0].redelivered);
  CHECK(arrivals[1].redelivered);
  CHECK(arrivals[1].payload == "once");
  CHECK(arrivals[1].packet_id == arrivals[0].packet_id);
}

TEST_CASE("the status topic says listening, then stopped") {
  const TestBroker broker;
  Other onlooker(broker, {"rimeward/status"});
  {
    Listener listener(broker.settings("rimeward"));
    REQUIRE(listener.wait_for_event(Kind::kConnected));
    CHECK(onlooker.wait_for_payload(
        R"({"state":"listening","since":"2026-04-12T13:20:00Z"})"));
  }
  CHECK(onlooker.wait_for_payload(R"({"state":"stopped"})"));
  Other late(broker, {"rimeward/status"});
  CHECK(late.wait_for_payload(R"({"state":"stopped"})"));  // retained
}

TEST_CASE("two programs with one client id are told apart from a bad network") {
  const TestBroker broker;
  Listener one(broker.settings("rimeward"));
  Listener two(broker.settings("rimeward"));
  // Whichever of the two finds out first gives way for a while.
  const auto deadline = std::chrono::steady_clock::now() + 40s;
  std::string said;
  while (said.empty() && std::chrono::steady_clock::now() < deadline) {
    said = one.last_text(Kind::kClash) + two.last_text(Kind::kClash);
    std::this_thread::sleep_for(50ms);
  }
  CHECK(says(said, "\"rimeward\""));
  CHECK(says(said, "[broker] client_id"));
}

// Answers as a broker does that lets everybody in and nobody subscribe: Mosquitto without
// a plug-in grants every subscription and then keeps silent. Packets: OASIS MQTT 3.1.1,
// sections 3.2, 3.4 and 3.9.
class UnwillingBroker {
 public:
  UnwillingBroker() : listening_(::socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0)) {
    sockaddr_in address{};
    address.sin_family = AF_INET;
    address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    socklen_t length = sizeof address;
    auto* generic = reinterpret_cast<sockaddr*>(&address);
    REQUIRE(::bind(listening_, generic, length) == 0);
    REQUIRE(::getsockname(listening_, generic, &length) == 0);
    REQUIRE(::listen(listening_, 1) == 0);
    port_ = ntohs(address.sin_port);
    thread_ = std::jthread([this] { serve(); });
  }
  ~UnwillingBroker() {
    ::shutdown(listening_, SHUT_RDWR);
    thread_.join();
    ::close(listening_);
  }
  UnwillingBroker(const UnwillingBroker&) = delete;
  UnwillingBroker& operator=(const UnwillingBroker&) = delete;

  std::string address() const { return "mqtt://127.0.0.1:" + std::to_string(port_); }

 private:
  using Bytes = std::vector<unsigned char>;

  void serve() const {
    const int client = ::accept4(listening_, nullptr, nullptr, SOCK_CLOEXEC);
    if (client < 0) return;
    unsigned char header[2];  // every packet of this test is shorter than 128 bytes
    while (::recv(client, header, 2, MSG_WAITALL) == 2) {
      Bytes body(header[1]);
      if (::recv(client, body.data(), body.size(), MSG_WAITALL) !=
          static_cast<ssize_t>(body.size())) {
        break;
      }
      const Bytes reply = answer(header[0] >> 4U, body);
      if (!reply.empty()) ::send(client, reply.data(), reply.size(), MSG_NOSIGNAL);
    }
    ::close(client);
  }

  static Bytes answer(int kind, const Bytes& body) {
    if (kind == 1) return {0x20, 2, 0, 0};                    // CONNECT: welcome
    if (kind == 8) return {0x90, 3, body[0], body[1], 0x80};  // SUBSCRIBE: no
    if (kind != 3) return {};
    const auto packet_id =
        static_cast<std::size_t>(body[1]) + 2;  // PUBLISH, after its topic
    return {0x40, 2, body[packet_id], body[packet_id + 1]};
  }

  int listening_;
  int port_ = 0;
  std::jthread thread_;
};

TEST_CASE("a subscription that the broker refuses is named") {
  const UnwillingBroker broker;
  Broker settings;
  settings.address = broker.address();
  settings.listen = {"garden/#"};
  settings.user = "gate";
  Listener listener(settings);
  REQUIRE(listener.wait_for_event(Kind::kRefused));
  CHECK(listener.last_text(Kind::kRefused) ==
        broker.address() +
            ": refused the subscription to garden/#; allow it to user "
            "\"gate\" on the broker, or change [broker] listen");
}

TEST_CASE("a handler that throws ends neither the process nor the connection") {
  const TestBroker broker;
  Listener listener(broker.settings("rimeward"));
  REQUIRE(listener.wait_for_event(Kind::kConnected));
  listener.before_each([](const Arrival& arrival) {
    if (arrival.payload == "poison") throw std::runtime_error("no");
  });
  Other sensor(broker, {"nothing"});
  REQUIRE(sensor.publish("garden/a", "poison"));
  REQUIRE(sensor.publish("garden/a", "water"));
  CHECK(listener.wait_for_payload("water"));
}

TEST_CASE("stopping is quick while no broker answers") {
  TestBroker broker;
  broker.stop();
  Listener listener(broker.settings("rimeward"));
  REQUIRE(listener.wait_for_event(Kind::kUnreachable));
  const auto begin = std::chrono::steady_clock::now();
  listener.link().stop();
  CHECK(std::chrono::steady_clock::now() - begin < 5s);
}

TEST_CASE("a broker whose certificate comes from the CA file is connected to securely") {
  const TestBroker broker({.tls = true});
  Listener listener(broker.settings("rimeward"));
  CHECK(listener.wait_for_event(Kind::kConnected));
}

TEST_CASE("a certificate for another name or from an unknown CA is not accepted") {
  const TestBroker broker({.tls = true});
  Broker other_name = broker.settings("by-name");
  other_name.address.replace(other_name.address.find("127.0.0.1"), 9, "localhost");
  Broker unknown_ca = broker.settings("by-ca");
  unknown_ca.ca_file.clear();
  for (const Broker& settings : {other_name, unknown_ca}) {
    CAPTURE(settings.client_id);
    Listener listener(settings);
    REQUIRE(listener.wait_for_event(Kind::kUnreachable));
    const std::string said = listener.last_text(Kind::kUnreachable);
    CHECK(says(said, "the name in its certificate"));
    CHECK(says(said, "ca_file"));
  }
}

TEST_CASE("a CA file that cannot be read is named") {
  const TestBroker broker({.tls = true});
  Broker settings = broker.settings("rimeward");
  settings.ca_file = (broker.folder() / "missing.pem").string();
  Listener listener(settings);
  REQUIRE(listener.wait_for_event(Kind::kRefused));
  CHECK(says(listener.last_text(Kind::kRefused), "[broker] ca_file " + settings.ca_file));
}

TEST_CASE("an address that is none is refused at once") {
  Broker broker;
  broker.address = "carrier-pigeon://loft";
  CHECK_THROWS_AS(MqttLink(broker, {}), std::runtime_error);
}

}  // namespace
}  // namespace rimeward
