#include <doctest/doctest.h>

#include "daemon/delivery/routes.h"
#include "tests/support/broker.h"
#include "tests/support/listener.h"
#include "tests/support/sample_dispatch.h"

namespace rimeward {
namespace {

using Kind = Delivered::Outcome;

Outside outside_of(MqttLink& link) {
  Outside outside;
  outside.publish = [&link](const std::string& topic, const std::string& payload,
                            bool retained, std::chrono::milliseconds patience) {
    return link.publish(topic, payload, retained, patience);
  };
  return outside;
}

std::unique_ptr<Route> route_on(MqttLink& link) {
  RouteSettings settings;
  settings.kind = "mqtt";
  settings.topic = "rimeward/notice";
  return make_route_mqtt(settings, outside_of(link));
}

// What a display shows that is switched on now: the retained copies, by topic.
std::map<std::string, std::string> shown(const TestBroker& broker, Listener& daemon,
                                         const std::string& display_id) {
  Broker settings = broker.settings(display_id);
  settings.status_topic = "display/status";
  settings.listen = {"rimeward/notice/#", "marker"};
  REQUIRE(daemon.link().publish("marker", "end", true, std::chrono::seconds{10}));
  Listener display(settings);
  REQUIRE(display.wait_for_payload("end"));
  std::map<std::string, std::string> kept;
  for (const Arrival& arrival : display.arrivals()) {
    CHECK(arrival.retained);
    if (arrival.topic != "marker") kept[arrival.topic] = arrival.payload;
  }
  return kept;
}

TEST_CASE("a notice stands retained as JSON with a plain-text twin until it is over") {
  const TestBroker broker;
  Listener daemon(broker.settings("rimeward"));
  REQUIRE(daemon.wait_for_event(LinkEvent::Kind::kConnected));
  const auto route = route_on(daemon.link());
  const Dispatch raised = sample_dispatch();

  CHECK(route->deliver(raised, {}).outcome == Kind::kDone);
  const std::map<std::string, std::string> both{
      {"rimeward/notice/cover/north-frame", sample_telling().json},
      {"rimeward/notice/cover/north-frame/text",
       "Fleece the north frame tonight, by 19:05\nThe low is expected at -1.5 °C.\n"}};
  CHECK(shown(broker, daemon, "display-1") == both);

  CHECK(route->deliver(sample_dispatch("over"), {}).outcome == Kind::kDone);
  CHECK(shown(broker, daemon, "display-2").empty());
}

TEST_CASE("of several tellings each stands on its own topic, a letter too") {
  const TestBroker broker;
  Listener daemon(broker.settings("rimeward"));
  REQUIRE(daemon.wait_for_event(LinkEvent::Kind::kConnected));
  Dispatch dispatch = sample_dispatch();
  Telling letter = sample_telling("letter");
  letter.notice.kind = "sunday";
  letter.notice.subject = "the garden";
  letter.json = R"({"id":4})";
  dispatch.tellings.push_back(letter);

  CHECK(route_on(daemon.link())->deliver(dispatch, {}).outcome == Kind::kDone);
  const auto kept = shown(broker, daemon, "display-1");
  CHECK(kept.size() == 4);
  CHECK(kept.at("rimeward/notice/cover/north-frame") == sample_telling().json);
  CHECK(kept.at("rimeward/notice/sunday/the garden") == letter.json);
}

TEST_CASE("without a connection the notice is to be sent again") {
  TestBroker broker;
  broker.stop();
  Listener daemon(broker.settings("rimeward"));
  const Outcome outcome = route_on(daemon.link())->deliver(sample_dispatch(), {});
  CHECK(outcome.outcome == Kind::kAgain);
  CHECK(outcome.trouble.find("rimeward/notice/cover/north-frame") != std::string::npos);
}

}  // namespace
}  // namespace rimeward
