#include "daemon/rhythm.h"

#include <doctest/doctest.h>

#include "tests/support/hochfeld.h"

using namespace rimeward;
using namespace rimeward::testing;
using namespace std::chrono_literals;

namespace {

const Instant kStart = at("2026-04-12T12:00:00Z");

}  // namespace

TEST_CASE("a rhythm needs three readings and is the middle gap, whatever the odd one") {
  Rhythm rhythm;
  CHECK_FALSE(rhythm.last_heard());
  rhythm.heard(kStart);
  rhythm.heard(kStart + 5min);
  CHECK_FALSE(rhythm.usual_gap());
  rhythm.heard(kStart + 10min);
  CHECK(rhythm.usual_gap() == 5min);
  rhythm.heard(kStart + 3h);
  rhythm.heard(kStart + 3h + 5min);
  CHECK(rhythm.usual_gap() == 5min);
  CHECK(rhythm.last_heard() == kStart + 3h + 5min);
}

TEST_CASE("readings out of order, or told twice, make the same rhythm") {
  Rhythm rhythm;
  for (const auto minutes : {20min, 0min, 10min, 10min, 30min})
    rhythm.heard(kStart + minutes);
  CHECK(rhythm.usual_gap() == 10min);
  CHECK(rhythm.last_heard() == kStart + 30min);
}

TEST_CASE("only the newest dozen count, and none from two days before") {
  Rhythm rhythm;
  for (int i = 0; i < 40; ++i)
    rhythm.heard(kStart + i * 1h);
  for (int i = 1; i <= 12; ++i)
    rhythm.heard(kStart + 40h + i * 1min);
  CHECK(rhythm.usual_gap() == 1min);
  Rhythm woken;
  woken.heard(kStart);
  woken.heard(kStart + 1min);
  woken.heard(kStart + 2min);
  woken.heard(kStart + 100h);
  CHECK_FALSE(woken.usual_gap());
}

TEST_CASE("the gap that a sensor leaves now and then is no single outage") {
  Rhythm rhythm;
  Instant at = kStart;
  rhythm.heard(at);
  for (const auto gap : {10min, 50min, 10min, 300min, 20min, 10min})
    rhythm.heard(at += gap);
  CHECK(rhythm.usual_gap() == 20min);
  CHECK(rhythm.long_gap() == 50min);
}
