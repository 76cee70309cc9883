#include "daemon/heard_topics.h"

#include <algorithm>

#include <doctest/doctest.h>
#include <fmt/format.h>

#include "tests/support/hochfeld.h"

using namespace rimeward;
using namespace rimeward::testing;
using namespace std::chrono_literals;

namespace {

const Instant kNoon = at("2026-04-12T12:00:00Z");

Arrival heard(std::string topic, Instant when, std::string payload = "21.5") {
  Arrival arrival;
  arrival.at = when;
  arrival.topic = std::move(topic);
  arrival.payload = std::move(payload);
  return arrival;
}

std::vector<HeardRow> rows_after(Store& store, Changes& changes) {
  changes.now = kNoon;
  store.commit(changes);
  return store.heard();
}

}  // namespace

TEST_CASE("a topic is kept with the last it said, at most once in ten minutes") {
  Store store = Store::in_memory();
  HeardTopics topics(store);
  Changes changes;
  topics.note(heard("garden/cellar", kNoon, "1"), changes);
  topics.note(heard("garden/cellar", kNoon + 9min, "2"), changes);
  topics.note(heard("garden/cellar", kNoon + 10min, "3"), changes);
  const auto rows = rows_after(store, changes);
  REQUIRE(rows.size() == 1);
  CHECK(rows[0].count == 2);
  CHECK(rows[0].payload == "3");
  CHECK(rows[0].first_at == kNoon);
  CHECK(rows[0].last_at == kNoon + 10min);
}

TEST_CASE("a flood of topics takes a bounded place and pushes out only the forgotten") {
  Store store = Store::in_memory();
  HeardTopics topics(store);
  Changes changes;
  for (int i = 0; i < 1000; ++i)
    topics.note(heard(fmt::format("garden/{}", i), kNoon), changes);
  topics.note(heard(std::string(300, 'x'), kNoon + 48h), changes);
  CHECK(rows_after(store, changes).size() == HeardTopics::kMost);
  Changes later;
  topics.note(heard("garden/late", kNoon + 25h, std::string(9000, 'x')), later);
  const auto rows = rows_after(store, later);
  CHECK(rows.size() == HeardTopics::kMost);
  const auto late = std::ranges::find(rows, "garden/late", &HeardRow::topic);
  REQUIRE(late != rows.end());
  CHECK(late->payload.size() == HeardTopics::kLongestPayload);
}
