#include "daemon/climate/cover.h"

#include <array>
#include <cmath>

#include <doctest/doctest.h>

#include "daemon/climate/dew_point.h"
#include "tests/support/hochfeld.h"

using namespace rimeward;
using namespace rimeward::testing;
using namespace std::chrono_literals;

namespace {

// Of 12 to 13 April 2026 at Hochfeld, to the minute.
const Night kNight{.solar_day = 20555,
                   .noon = at("2026-04-12T11:23:00Z"),
                   .sunset = at("2026-04-12T18:03:00Z"),
                   .sunrise = at("2026-04-13T04:38:00Z")};

}  // namespace

TEST_CASE("what was on from sunset to sunrise is the night's cover") {
  const CoverHistory on_at_dusk{{at("2026-04-12T17:00:00Z"), 2},
                                {at("2026-04-13T05:30:00Z"), 0}};
  CHECK(layers_over(on_at_dusk, kNight) == 2);
  CHECK(layers_at(on_at_dusk, at("2026-04-12T16:59:59Z")) == 0);
  CHECK(layers_at(on_at_dusk, at("2026-04-12T17:00:00Z")) == 2);
  CHECK(layers_over({}, kNight) == 0);
  // Written down twenty minutes after sunset: people do not run to the terminal first.
  CHECK(layers_over(CoverHistory{{at("2026-04-12T18:23:00Z"), 1}}, kNight) == 1);
  // On for days.
  CHECK(layers_over(CoverHistory{{at("2026-04-09T18:00:00Z"), 1}}, kNight) == 1);
  // Off again before the night.
  const CoverHistory off_at_noon{{at("2026-04-11T18:00:00Z"), 1},
                                 {at("2026-04-12T09:00:00Z"), 0}};
  CHECK(layers_over(off_at_noon, kNight) == 0);
}

TEST_CASE("a cover that was changed in the night is no night's cover") {
  CHECK_FALSE(layers_over(CoverHistory{{at("2026-04-12T21:00:00Z"), 1}}, kNight));
  const CoverHistory blown_off{{at("2026-04-12T17:00:00Z"), 1},
                               {at("2026-04-13T02:00:00Z"), 0}};
  CHECK_FALSE(layers_over(blown_off, kNight));
  // Said twice, the same is no change.
  const CoverHistory twice{{at("2026-04-12T17:00:00Z"), 1},
                           {at("2026-04-12T21:00:00Z"), 1}};
  CHECK(layers_over(twice, kNight) == 1);
}

TEST_CASE("a cover lifts in the evening and by night, in full by the morning") {
  const Lifts lifts;
  const CoverHistory on{{at("2026-04-12T17:03:00Z"), 1}};
  const auto share = [&](std::string_view when) {
    return lift_at(on, lifts, kNight, at(when)).degrees / lifts.of(1).added.degrees;
  };
  CHECK(share("2026-04-12T17:00:00Z") == 0.0);
  CHECK(share("2026-04-12T17:33:00Z") == doctest::Approx(0.375));
  CHECK(share("2026-04-12T18:03:00Z") == doctest::Approx(0.75));
  CHECK(share("2026-04-12T23:20:30Z") == doctest::Approx(0.875));
  CHECK(share("2026-04-13T04:38:00Z") == doctest::Approx(1.0));
  CHECK(share("2026-04-13T07:00:00Z") == 0.0);
  // On since the day before: by day a fleece may warm a place by any amount.
  const CoverHistory long_on{{at("2026-04-11T17:00:00Z"), 1}};
  CHECK(lift_at(long_on, lifts, kNight, at("2026-04-12T14:00:00Z")).degrees == 0.0);
  CHECK(lift_at(long_on, lifts, kNight, at("2026-04-12T17:00:00Z")).degrees > 0.0);
  CHECK(lift_at({}, lifts, kNight, at("2026-04-13T02:00:00Z")).degrees == 0.0);
}

TEST_CASE("readings as if uncovered are colder beneath the cover and keep their vapour") {
  const Lifts lifts;
  const CoverHistory on{{at("2026-04-12T17:00:00Z"), 2}, {at("2026-04-13T06:00:00Z"), 0}};
  Recents recents;
  for (Instant now = at("2026-04-12T12:00:00Z"); now < at("2026-04-13T08:00:00Z");
       now += 1h) {
    recents.air.insert(now, 6.0);
    recents.humidity.insert(now, 70.0);
  }
  const Recents open = as_if_uncovered(recents, on, lifts, std::array{kNight});
  REQUIRE(open.air.values().size() == recents.air.values().size());
  const auto air = [](const Recents& all, std::string_view when) {
    return all.air.newest_at_or_before(at(when), 0s)->value;
  };
  CHECK(air(open, "2026-04-12T17:00:00Z") == 6.0);
  CHECK(air(open, "2026-04-13T07:00:00Z") == 6.0);
  const Instant small_hours = at("2026-04-13T02:00:00Z");
  const Kelvins lift = lift_at(on, lifts, kNight, small_hours);
  CHECK(lift.degrees > 1.0);
  CHECK(air(open, "2026-04-13T02:00:00Z") == doctest::Approx(6.0 - lift.degrees));
  const auto dew = [](const Recents& all) {
    return newest_dew_point(all, at("2026-04-13T02:00:00Z"), 1s)->degrees;
  };
  CHECK(dew(open) == doctest::Approx(dew(recents)).epsilon(0.01));
}

TEST_CASE("an outlook under a cover is warmer by the lift and less sure") {
  Outlook open;
  open.low = Celsius{-1.0};
  open.spread_below = Kelvins{1.5};
  open.spread_above = Kelvins{2.0};
  open.running_low = Celsius{3.0};
  const Lift lift{.added = {2.0}, .spread = {1.0}, .nights = 4};
  const Outlook covered = under(open, lift);
  CHECK(covered.low == Celsius{1.0});
  CHECK(covered.spread_below.degrees == doctest::Approx(std::hypot(1.5, 1.0)));
  CHECK(covered.low90.degrees == doctest::Approx(1.0 + 1.2816 * std::hypot(2.0, 1.0)));
  // What was read without the cover says nothing of the night beneath it.
  CHECK_FALSE(covered.running_low);
  CHECK(odds_below(covered, {0.0}).value < odds_below(open, {0.0}).value);
}
