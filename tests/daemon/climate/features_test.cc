#include "daemon/climate/features.h"

#include <array>
#include <chrono>
#include <cmath>

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

TEST_CASE("what is known of the pressure is its rise in three hours and its level") {
  const auto night = night_of(18'000, kHochfeld);
  REQUIRE(night);
  const auto at_moment = [&night](Moment moment, double hours_before) {
    return whole_second(time_of(moment, *night)) -
           std::chrono::minutes{std::lround(60.0 * hours_before)};
  };
  FeatureArray fill{};
  fill.fill(0.25);
  for (const Moment moment : kMoments) {
    CAPTURE(name_of(moment));
    const std::size_t rise = plain_feature_count(moment);
    Recents recents;
    recents.air.insert(at_moment(moment, 0.5), 8.0);
    const auto known = [&] {
      const auto all = known_at(moment, *night, {}, recents, fill);
      REQUIRE(all);
      return std::array{all->features.at(rise), all->features.at(rise + 1)};
    };
    CHECK(known() == std::array{0.25, 0.25});
    // 2 hPa lower each hour back, at half past.
    for (int back = 0; back < 8; ++back) {
      recents.pressure.insert(at_moment(moment, 0.5 + back), 1000.0 - 2.0 * back);
    }
    CHECK(known()[0] == doctest::Approx(3.0));
    CHECK(known()[1] == doctest::Approx(7.0 / 8.0));
    recents.pressure.forget_before(at_moment(moment, 7.0));
    CHECK(known()[0] == doctest::Approx(3.0));
    CHECK(known()[1] == 0.25);  // too few for a mean
    recents.pressure.forget_before(at_moment(moment, 3.0));
    CHECK(known()[0] == 0.25);
  }
}

TEST_CASE("pressure that is old or later than the moment is not looked at") {
  const auto night = night_of(18'000, kHochfeld);
  REQUIRE(night);
  const Instant dusk = whole_second(time_of(Moment::kDusk, *night));
  Recents recents;
  recents.air.insert(dusk - 30min, 8.0);
  for (int back = 2; back < 40; ++back)
    recents.pressure.insert(dusk - back * 1h, 1000.0 + back);
  recents.pressure.insert(dusk + 1h, 900.0);
  const auto old = known_at(Moment::kDusk, *night, {}, recents, {});
  REQUIRE(old);
  CHECK(old->features[7] == 0.0);
  CHECK(old->features[8] == 0.0);
  recents.pressure.insert(dusk - 1h, 1200.0);  // no pressure moves so: it is clipped
  const auto clipped = known_at(Moment::kDusk, *night, {}, recents, {});
  REQUIRE(clipped);
  CHECK(clipped->features[7] == 4.0);
  CHECK(clipped->features[8] == 3.75);
}

TEST_CASE("where the sun stays up there is no night") {
  CHECK_FALSE(night_at(at("2026-06-21T12:00:00Z"), Position{80, 20}));
}
