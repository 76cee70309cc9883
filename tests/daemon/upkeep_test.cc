#include "daemon/upkeep.h"

#include <chrono>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "tests/daemon/store/store_builders.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;
using std::chrono::days;

constexpr std::chrono::sys_days kFirstDay = 2026y / 4 / 12;
constexpr Instant kBegin = kFirstDay;

struct Kept {
  StoreSettings settings;
  Store store = Store::in_memory();
  std::vector<std::string> log;
  std::optional<std::int64_t> written = 1000;
  Upkeep upkeep{store, settings,
                [this](LogLevel, const std::string& line) { log.push_back(line); },
                [this] { return written; }};

  void fill(int day_count) {
    Changes changes;
    changes.series = {air_of(1, "yard")};
    for (Instant at = kBegin; at < kBegin + days{day_count}; at += 1h)
      changes.readings.push_back({at, 1, 0});
    changes.now = kBegin + days{day_count};
    store.commit(changes);
  }
  // As the loop does, once a second.
  void steps(Instant from, int count) {
    for (int i = 0; i < count; ++i)
      upkeep.step(from + std::chrono::seconds{i});
  }
};

TEST_CASE("a day is packed two hours after it is over, a day a step") {
  Kept kept;
  kept.fill(3);
  kept.steps(kBegin + 25h + 59min, 1);
  CHECK(kept.store.packing().last_packed == std::nullopt);
  kept.steps(kBegin + 26h, 1);
  CHECK(kept.store.packing().last_packed == kFirstDay);
  kept.steps(kBegin + days{3} + 2h, 1);
  CHECK(kept.store.packing().last_packed == kFirstDay + days{1});
  kept.steps(kBegin + days{3} + 2h + 1s, 1);
  CHECK(kept.store.packing().last_packed == kFirstDay + days{2});
}

TEST_CASE("a late reading waits for the next full hour, to spare the card") {
  Kept kept;
  kept.fill(1);
  kept.steps(kBegin + 26h, 3);
  CHECK(kept.store.packing().oldest_loose == std::nullopt);
  kept.store.commit(with_readings({{kBegin + 1s, 1, 5}}, kBegin + 26h));
  kept.steps(kBegin + 26h + 10s, 100);
  CHECK(kept.store.packing().oldest_loose == kBegin + 1s);
  kept.steps(kBegin + 27h, 1);
  CHECK(kept.store.packing().oldest_loose == std::nullopt);
}

TEST_CASE("packing the days of a store that never was packed is told as it goes on") {
  Kept kept;
  kept.fill(20);
  kept.steps(kBegin + days{20} + 3h, 60);
  CHECK(kept.store.packing().last_packed == kFirstDay + days{19});
  REQUIRE(kept.log.size() == 11);
  CHECK(kept.log.front() ==
        "packing the readings of 20 days, oldest first, beside the daily work; "
        "`rimeward store` says how far it is");
  CHECK(kept.log[1] == "packed: 10 %");
  CHECK(kept.log.back() == "all days that are over are packed");
}

TEST_CASE("the one day of every day is packed without a word") {
  Kept kept;
  kept.fill(1);
  kept.steps(kBegin + 26h, 5);
  CHECK(kept.log.empty());
}

TEST_CASE("readings are dropped when they are older than the garden keeps them") {
  Kept kept;
  kept.fill(100);
  kept.steps(kBegin + days{100} + 3h, 300);
  CHECK(kept.store.next_reading(kBegin) == kBegin);
  kept.settings.keep_readings = days{90};
  kept.steps(kBegin + days{100} + 5h, 300);
  CHECK(kept.store.next_reading(kBegin) == kBegin + days{10});
  CHECK(kept.store.readings_kept_from() == kBegin + days{10});
}

TEST_CASE("what was written is added up by the hour and at the end") {
  Kept kept;
  kept.steps(kBegin + 22h, 1);
  kept.written = 1500;
  kept.steps(kBegin + 22h + 59min, 1);
  CHECK(kept.store.written().empty());
  kept.steps(kBegin + 23h, 1);
  CHECK(kept.store.written() == std::vector<WrittenRow>{{kFirstDay, 500}});
  kept.written = 1700;
  kept.upkeep.note_written(kBegin + 25h);
  CHECK(kept.store.written() ==
        std::vector<WrittenRow>{{kFirstDay, 500}, {kFirstDay + days{1}, 200}});
  kept.upkeep.note_written(kBegin + 25h);
  CHECK(kept.store.written().size() == 2);
}

TEST_CASE("where the kernel does not count what is written, nothing is claimed") {
  Kept kept;
  kept.written = std::nullopt;
  kept.steps(kBegin, 1);
  kept.steps(kBegin + 2h, 1);
  CHECK(kept.store.written().empty());
}

TEST_CASE("the kernel's count of this process is found") {
  CHECK(bytes_written().has_value());
}

}  // namespace
}  // namespace rimeward
