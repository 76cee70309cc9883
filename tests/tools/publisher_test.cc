#include "tools/play/publisher.h"

#include <set>
#include <thread>
#include <vector>

#include <doctest/doctest.h>

#include "tests/support/broker.h"
#include "tests/support/listener.h"

namespace rimeward {
namespace {

TEST_CASE("many more messages than the window holds arrive in order") {
  const TestBroker broker;
  Listener listener(broker.settings("rimeward"));
  REQUIRE(listener.wait_for_event(LinkEvent::Kind::kConnected));
  auto publisher = Publisher::connect(broker.settings("unused"), [](const auto&) {});
  REQUIRE(publisher.has_value());
  for (int i = 0; i < 1000; ++i)
    publisher->publish("garden/a", std::to_string(i));
  publisher->finish();
  REQUIRE(listener.wait_for_payload("999"));
  const auto arrivals = listener.arrivals();
  REQUIRE(arrivals.size() == 1000);
  for (std::size_t i = 0; i < arrivals.size(); ++i) {
    REQUIRE(arrivals[i].payload == std::to_string(i));
  }
}

TEST_CASE("a broker that goes away in mid-stream costs no message") {
  TestBroker broker;
  Listener listener(broker.settings("rimeward"));
  REQUIRE(listener.wait_for_event(LinkEvent::Kind::kConnected));
  std::vector<std::string> said;
  auto publisher = Publisher::connect(
      broker.settings("unused"), [&](const std::string& line) { said.push_back(line); });
  REQUIRE(publisher.has_value());
  for (int i = 0; i < 300; ++i)
    publisher->publish("garden/a", std::to_string(i));
  broker.stop();
  std::jthread back([&] {
    std::this_thread::sleep_for(std::chrono::milliseconds{50});
    broker.start();
  });
  for (int i = 300; i < 600; ++i)
    publisher->publish("garden/a", std::to_string(i));
  publisher->finish();
  CHECK(listener.wait([](const std::vector<Arrival>& arrivals, const auto& /*events*/) {
    std::set<std::string> payloads;
    for (const Arrival& arrival : arrivals)
      payloads.insert(arrival.payload);
    return payloads.size() == 600;
  }));
  REQUIRE(said.size() >= 2);
  CHECK(said.front() == broker.address() + ": connection lost, waiting for the broker");
  CHECK(said.back() == broker.address() + ": connected again");
}

TEST_CASE("a broker that cannot be reached or lets nobody in is said at once") {
  TestBroker broker({.user = "gate", .password = "right one"});
  Broker settings = broker.settings("unused");
  settings.password_file.clear();
  const auto refused = Publisher::connect(settings, [](const auto&) {});
  REQUIRE_FALSE(refused.has_value());
  CHECK(refused.error().message ==
        broker.address() + ": refused the user name or password");
  broker.stop();
  const auto absent = Publisher::connect(settings, [](const auto&) {});
  REQUIRE_FALSE(absent.has_value());
  CHECK(absent.error().message ==
        broker.address() + ": could not connect; is it running?");
}

}  // namespace
}  // namespace rimeward
