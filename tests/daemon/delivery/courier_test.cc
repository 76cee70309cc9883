#include "daemon/delivery/courier.h"

#include <chrono>
#include <vector>

#include <doctest/doctest.h>

#include "daemon/base/inbox.h"
#include "tests/support/sample_dispatch.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;
using Kind = Delivered::Outcome;

std::chrono::steady_clock::time_point soon() {
  return std::chrono::steady_clock::now() + 10s;
}

class FakeRoute : public Route {
 public:
  explicit FakeRoute(std::function<Outcome(const Dispatch&, std::stop_token)> answer)
      : answer_(std::move(answer)) {}
  Outcome deliver(const Dispatch& dispatch, std::stop_token stop) override {
    return answer_(dispatch, std::move(stop));
  }

 private:
  std::function<Outcome(const Dispatch&, std::stop_token)> answer_;
};

Routes one_route(std::function<Outcome(const Dispatch&, std::stop_token)> answer) {
  Routes routes;
  routes.emplace("command-1", std::make_unique<FakeRoute>(std::move(answer)));
  return routes;
}

Dispatch numbered(std::int64_t outbox) {
  Dispatch dispatch = sample_dispatch();
  dispatch.tellings.front().outbox = outbox;
  return dispatch;
}

TEST_CASE("each dispatch is answered with its outcome, in the order sent") {
  Inbox<Delivered> inbox(100);
  Courier courier(one_route([](const Dispatch& dispatch, const std::stop_token&) {
                    if (dispatch.tellings.front().outbox == 2)
                      return Outcome{Kind::kAgain, "busy"};
                    return Outcome{};
                  }),
                  [&](const Delivered& delivered) { CHECK(inbox.post(delivered)); });
  for (const std::int64_t id : {1, 2, 3})
    REQUIRE(courier.send(numbered(id)));
  for (const std::int64_t id : {1, 2, 3}) {
    const auto answer = inbox.take_until(soon());
    REQUIRE(answer.has_value());
    CHECK(answer->route == "command-1");
    CHECK(answer->outbox == std::vector<std::int64_t>{id});
    CHECK(answer->outcome == (id == 2 ? Kind::kAgain : Kind::kDone));
    CHECK(answer->trouble == (id == 2 ? "busy" : ""));
  }
}

TEST_CASE("what is for a route that is not there is not taken") {
  Courier courier({}, [](const Delivered&) { FAIL("nothing was tried"); });
  CHECK_FALSE(courier.send(numbered(1)));
}

TEST_CASE("a route that hangs does not hold up another") {
  Inbox<Delivered> inbox(100);
  Inbox<int> under_way(1);
  Routes routes = one_route([&](const Dispatch&, const std::stop_token& stop) {
    CHECK(under_way.post(1));
    Inbox<int> never(1);
    while (!stop.stop_requested()) {
      static_cast<void>(never.take_until(std::chrono::steady_clock::now() + 20ms));
    }
    return Outcome{Kind::kAgain, "given up"};
  });
  routes.emplace("mqtt-2",
                 std::make_unique<FakeRoute>(
                     [](const Dispatch&, const std::stop_token&) { return Outcome{}; }));
  Courier courier(std::move(routes),
                  [&](const Delivered& delivered) { CHECK(inbox.post(delivered)); });
  REQUIRE(courier.send(numbered(1)));
  REQUIRE(under_way.take_until(soon()).has_value());
  Dispatch other = numbered(2);
  other.route = "mqtt-2";
  REQUIRE(courier.send(std::move(other)));
  const auto answer = inbox.take_until(soon());
  REQUIRE(answer.has_value());
  CHECK(answer->route == "mqtt-2");
  CHECK(answer->outcome == Kind::kDone);
}

TEST_CASE("a route that throws is tried again and ends nothing") {
  Inbox<Delivered> inbox(100);
  Courier courier(one_route([](const Dispatch&, const std::stop_token&) -> Outcome {
                    throw std::runtime_error("no memory");
                  }),
                  [&](const Delivered& delivered) { CHECK(inbox.post(delivered)); });
  for (const std::int64_t id : {1, 2}) {
    REQUIRE(courier.send(numbered(id)));
    const auto answer = inbox.take_until(soon());
    REQUIRE(answer.has_value());
    CHECK(answer->outcome == Kind::kAgain);
    CHECK(answer->trouble == "no memory");
  }
}

TEST_CASE("a hanging route fills the queue, and a stop makes it give up") {
  Inbox<Delivered> inbox(1000);
  Inbox<int> under_way(1);
  Courier courier(
      one_route([&](const Dispatch&, const std::stop_token& stop) {
        CHECK(under_way.post(1));
        Inbox<int> never(1);
        while (!stop.stop_requested()) {
          static_cast<void>(never.take_until(std::chrono::steady_clock::now() + 20ms));
        }
        return Outcome{Kind::kAgain, "given up"};
      }),
      [&](const Delivered& delivered) { CHECK(inbox.post(delivered)); });
  REQUIRE(courier.send(numbered(1)));
  REQUIRE(under_way.take_until(soon()).has_value());
  std::size_t queued = 0;
  while (queued < 1000 && courier.send(numbered(2)))
    ++queued;
  CHECK(queued == Courier::kQueue);

  const auto begin = std::chrono::steady_clock::now();
  courier.stop();
  CHECK(std::chrono::steady_clock::now() - begin < 6s);
  CHECK_FALSE(courier.send(numbered(3)));
  const auto answer = inbox.take_until(soon());
  REQUIRE(answer.has_value());
  CHECK(answer->trouble == "given up");
  CHECK_FALSE(inbox.take_until(std::chrono::steady_clock::now()).has_value());
}

TEST_CASE("a stop lets the delivery under way finish") {
  Inbox<Delivered> inbox(100);
  Inbox<int> under_way(1);
  Courier courier(
      one_route([&](const Dispatch&, const std::stop_token& stop) {
        CHECK(under_way.post(1));
        Inbox<int> never(1);
        static_cast<void>(never.take_until(std::chrono::steady_clock::now() + 300ms));
        return stop.stop_requested() ? Outcome{Kind::kAgain, "given up"} : Outcome{};
      }),
      [&](const Delivered& delivered) { CHECK(inbox.post(delivered)); });
  REQUIRE(courier.send(numbered(1)));
  REQUIRE(under_way.take_until(soon()).has_value());
  courier.stop();
  const auto answer = inbox.take_until(soon());
  REQUIRE(answer.has_value());
  CHECK(answer->outcome == Kind::kDone);
}

TEST_CASE("a route is named by its kind and its number among all routes") {
  std::vector<RouteSettings> settings(3);
  settings[0].kind = "mqtt";
  settings[1].kind = "pigeon";
  settings[2].kind = "command";
  settings[2].run = {"true"};
  const Routes routes = make_routes(settings, {});
  REQUIRE(routes.size() == 2);
  CHECK(routes.contains("mqtt-1"));
  CHECK(routes.contains("command-3"));
}

}  // namespace
}  // namespace rimeward
