#include "daemon/climate/recents.h"

#include <algorithm>
#include <vector>

#include <doctest/doctest.h>

#include "daemon/climate/dew_point.h"

namespace rimeward {
namespace {

using std::chrono::hours;
using std::chrono::minutes;
using std::chrono::seconds;

constexpr Instant kStart{hours{474'000}};

std::vector<double> numbers_of(std::span<const TimedValue> values) {
  std::vector<double> numbers;
  std::ranges::transform(values, std::back_inserter(numbers), &TimedValue::value);
  return numbers;
}

}  // namespace

TEST_CASE("a series stays in order of time whatever the order of inserts") {
  Series series;
  for (const int minute : {30, 10, 20, 0, 40}) {
    CHECK(series.insert(kStart + minutes{minute}, minute));
  }
  CHECK(numbers_of(series.values()) == std::vector<double>{0, 10, 20, 30, 40});
}

TEST_CASE("a second value of one second is refused and changes nothing") {
  Series series;
  series.insert(kStart, 1.0);
  series.insert(kStart + minutes{1}, 2.0);
  CHECK_FALSE(series.insert(kStart, 9.0));
  CHECK_FALSE(series.insert(kStart + minutes{1}, 9.0));
  CHECK(numbers_of(series.values()) == std::vector<double>{1, 2});
}

TEST_CASE("what is forgotten cannot be seen, and later inserts keep their order") {
  Series series;
  for (int minute = 0; minute < 100; ++minute) {
    series.insert(kStart + minutes{minute}, minute);
  }
  for (const int oldest : {10, 45, 70, 95}) {
    CAPTURE(oldest);
    series.forget_before(kStart + minutes{oldest});
    CHECK(series.values().front().value == oldest);
    CHECK(series.values().size() == static_cast<std::size_t>(100 - oldest));
    CHECK_FALSE(series.newest_at_or_before(kStart + minutes{oldest - 1}, hours{9}));
  }
  CHECK(series.insert(kStart + minutes{96} + seconds{30}, 96.5));
  CHECK(numbers_of(series.values()) == std::vector<double>{95, 96, 96.5, 97, 98, 99});
  series.forget_before(kStart + hours{10});
  CHECK(series.values().empty());
  CHECK(series.insert(kStart, 1.0));
}

TEST_CASE("the newest value is one at or before the time and within the tolerance") {
  Series series;
  series.insert(kStart, 1.0);
  series.insert(kStart + minutes{10}, 2.0);
  CHECK(series.newest_at_or_before(kStart + minutes{10}, minutes{5})->value == 2.0);
  CHECK(series.newest_at_or_before(kStart + minutes{9}, minutes{9})->value == 1.0);
  CHECK_FALSE(series.newest_at_or_before(kStart + minutes{9}, minutes{8}));
  CHECK_FALSE(series.newest_at_or_before(kStart - seconds{1}, hours{1}));
}

TEST_CASE("a span leaves out its beginning and holds its end") {
  Series series;
  for (int minute = 0; minute < 5; ++minute) {
    series.insert(kStart + minutes{minute}, minute);
  }
  CHECK(numbers_of(series.between(kStart + minutes{1}, kStart + minutes{3})) ==
        std::vector<double>{2, 3});
  CHECK(series.between(kStart + minutes{3}, kStart + minutes{1}).empty());
  CHECK(numbers_of(series.until(kStart + minutes{1})) == std::vector<double>{0, 1});
}

TEST_CASE("a humidity goes with the newest air of the quarter hour before it") {
  Recents recents;
  recents.air.insert(kStart, 10.0);
  recents.air.insert(kStart + minutes{20}, 5.0);
  recents.humidity.insert(kStart + minutes{15}, 50.0);
  recents.humidity.insert(kStart + minutes{25}, 60.0);
  recents.humidity.insert(kStart + minutes{36}, 70.0);  // the air is 16 minutes old

  const SunTime end = kStart + hours{1};
  CHECK(newest_dew_point(recents, end, hours{1}) == dew_point({5.0}, {60.0}));
  CHECK(newest_dew_point(recents, kStart + minutes{24}, hours{1}) ==
        dew_point({10.0}, {50.0}));
  CHECK_FALSE(newest_dew_point(recents, end, minutes{30}));

  const double mean =
      (dew_point({10.0}, {50.0}).degrees + dew_point({5.0}, {60.0}).degrees) / 2;
  CHECK(mean_dew_point(recents, kStart, end, 2)->degrees == doctest::Approx(mean));
  CHECK_FALSE(mean_dew_point(recents, kStart, end, 3));
  // Air from before the span still goes with a humidity within it.
  CHECK(mean_dew_point(recents, kStart + minutes{22}, end, 1) ==
        dew_point({5.0}, {60.0}));
}

}  // namespace rimeward
