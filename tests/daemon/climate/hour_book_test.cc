#include "daemon/climate/hour_book.h"

#include <algorithm>
#include <chrono>
#include <map>
#include <random>
#include <vector>

#include <doctest/doctest.h>

#include "tests/support/hochfeld.h"

using namespace rimeward;
using namespace rimeward::testing;
using namespace std::chrono_literals;

namespace {

constexpr Channel kAir = Channel::kAirTemperature;
const Instant kStart = at("2026-04-08T00:00:00Z");
const Instant kForEver = kStart + 10000h;

std::optional<std::int64_t> air_of(const HourMeans& means) {
  return means.air;
}

std::optional<std::int64_t> both_of(const HourMeans& means) {
  if (!means.air || !means.humidity) return std::nullopt;
  return *means.air * *means.humidity / 1000;
}

struct Reading {
  Channel channel;
  std::size_t rank;
  Instant time;
  Milli value;
};

// A book of the same readings, hour by hour, as a store would give it.
HourBook made_anew(const std::vector<Reading>& readings) {
  std::map<std::tuple<Channel, std::size_t, Instant>, HourSum> sums;
  for (const Reading& one : readings) {
    const Instant hour = std::chrono::floor<std::chrono::hours>(one.time);
    HourSum& sum = sums[{one.channel, one.rank, hour}];
    sum.sum += one.value;
    ++sum.count;
  }
  HourBook book;
  for (const auto& [key, sum] : sums) {
    book.put(std::get<0>(key), std::get<1>(key), std::get<2>(key), sum);
  }
  return book;
}

}  // namespace

TEST_CASE("an hour's mean is rounded half away from zero") {
  CHECK(mean_of({.sum = 5, .count = 2}) == 3);
  CHECK(mean_of({.sum = -5, .count = 2}) == -3);
  CHECK(mean_of({.sum = -4, .count = 3}) == -1);
  CHECK(mean_of({.sum = 0, .count = 7}) == 0);
}

TEST_CASE("a gap of six hours lies on a straight line, one of seven is not known") {
  for (const int gap : {6, 7}) {
    CAPTURE(gap);
    HourBook book;
    book.add(kAir, 0, kStart + 10min, 1000);
    book.add(kAir, 0, kStart + std::chrono::hours{gap + 1}, 8000);
    const auto bridged = book.means(kStart + 1h).air;
    REQUIRE(bridged.has_value() == (gap == 6));
    if (bridged) CHECK(*bridged == 2000);
    CHECK_FALSE(book.is_measured(kAir, kStart + 1h));
    CHECK(book.is_measured(kAir, kStart));
    CHECK(book.sum(kStart, kForEver, &air_of).hours == (gap == 6 ? 8 : 2));
  }
}

TEST_CASE("nothing is known before the first hour of a channel and after its last") {
  HourBook book;
  book.add(kAir, 0, kStart, 1000);
  CHECK_FALSE(book.means(kStart - 1h).air);
  CHECK_FALSE(book.means(kStart + 1h).air);
  CHECK_FALSE(book.means(kStart).humidity);
  CHECK(book.newest(kAir) == kStart);
  CHECK_FALSE(book.newest(Channel::kHumidity));
  CHECK_FALSE(book.newest(Channel::kLight));
}

TEST_CASE("the sensor of the lowest rank speaks for the hours that it has") {
  HourBook book;
  book.add(kAir, 2, kStart, 9000);
  CHECK(book.means(kStart).air == 9000);
  book.add(kAir, 1, kStart + 1min, 4000);
  CHECK(book.means(kStart).air == 4000);
  book.remove(kAir, 1, kStart + 1min, 4000);
  CHECK(book.means(kStart).air == 9000);
}

TEST_CASE(
    "sums that are followed equal those made anew, in whatever order readings come") {
  for (const unsigned seed : {1U, 2U, 3U, 4U, 5U}) {
    CAPTURE(seed);
    std::mt19937 random(seed);
    const auto below = [&random](int n) {
      return static_cast<int>(random() % static_cast<unsigned>(n));
    };
    HourBook book;
    book.add(kAir, 0, kStart, 5000);
    std::vector<Reading> held{{kAir, 0, kStart, 5000}};
    const Instant from = kStart + 5h;
    const std::size_t air = book.follow(from, kForEver, &air_of);
    const std::size_t both = book.follow(kStart, kStart + 40h, &both_of);
    int hour = 0;
    for (int step = 0; step < 600; ++step) {
      if (below(4) == 0) hour = std::min(hour + below(12), 150);
      const bool takes_back = below(6) == 0 && held.size() > 1;
      if (takes_back) {
        const auto which = static_cast<std::ptrdiff_t>(
            held.size() - 1 - random() % std::min<std::size_t>(held.size(), 20));
        const Reading gone = held[static_cast<std::size_t>(which)];
        if (gone.time < kStart + std::chrono::hours{hour} - 60h) continue;
        book.remove(gone.channel, gone.rank, gone.time, gone.value);
        held.erase(held.begin() + which);
        continue;
      }
      const int late = below(3) == 0 ? below(40) : 0;
      const Reading one{.channel = below(2) == 0 ? kAir : Channel::kHumidity,
                        .rank = static_cast<std::size_t>(below(2)),
                        .time = kStart + std::chrono::hours{std::max(hour - late, 0)} +
                                std::chrono::seconds{below(3600)},
                        .value = below(20000) - 5000};
      book.add(one.channel, one.rank, one.time, one.value);
      held.push_back(one);
    }
    REQUIRE_FALSE(book.is_stale());
    const HourBook anew = made_anew(held);
    CHECK(book.followed(air) == anew.sum(from, kForEver, &air_of));
    CHECK(book.followed(both) == anew.sum(kStart, kStart + 40h, &both_of));
    CHECK(book.followed(air).hours > 20);
  }
}

TEST_CASE("a reading for an hour that has gone asks for the book to be made anew") {
  HourBook book;
  book.add(kAir, 0, kStart + HourBook::kKept + 1h, 1000);
  const Sum before = book.sum(kStart, kForEver, &air_of);
  book.add(kAir, 0, kStart + 1h, 7000);  // just kept
  CHECK_FALSE(book.is_stale());
  book.add(kAir, 0, kStart + 59min, 7000);
  CHECK(book.is_stale());
  CHECK(book.sum(kStart, kForEver, &air_of).hours == before.hours + 1);
}

TEST_CASE("a sum that is followed outlives the hours that it was made of") {
  HourBook book;
  book.add(kAir, 0, kStart, 1000);
  const std::size_t number = book.follow(kStart, kForEver, &air_of);
  for (int hour = 1; hour < 500; ++hour) {
    book.add(kAir, 0, kStart + std::chrono::hours{hour}, 1000);
  }
  CHECK(book.followed(number) == Sum{.amount = 500'000, .hours = 500});
  CHECK_FALSE(book.means(kStart).air);
}
