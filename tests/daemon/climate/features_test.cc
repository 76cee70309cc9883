#include "daemon/climate/features.h"

#include <doctest/doctest.h>

#include "tests/support/hochfeld.h"

using namespace rimeward;
using namespace rimeward::testing;
using namespace std::chrono_literals;

namespace {

constexpr Position kHochfeld{48.41, 9.52};

}  // namespace

TEST_CASE("a night is under way until two hours after sunrise, then the next one comes") {
  const auto evening = night_at(at("2026-04-12T22:00:00Z"), kHochfeld);
  REQUIRE(evening);
  const Instant end = whole_second(evening->sunrise) + 2h;
  CHECK(evening->solar_day == at("2026-04-12T00:00:00Z").time_since_epoch() / 24h);
  CHECK(night_at(at("2026-04-13T00:30:00Z"), kHochfeld) == evening);
  CHECK(night_at(end - 1s, kHochfeld) == evening);
  const auto next = night_at(end, kHochfeld);
  REQUIRE(next);
  CHECK(next->solar_day == evening->solar_day + 1);
  CHECK(night_at(at("2026-04-13T17:00:00Z"), kHochfeld) == next);
}

TEST_CASE("where the sun stays up there is no night") {
  CHECK_FALSE(night_at(at("2026-06-21T12:00:00Z"), Position{80, 20}));
}
