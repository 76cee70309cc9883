#include "daemon/climate/differences.h"

#include <cmath>
#include <string>

#include <doctest/doctest.h>

#include "tests/support/saved_text.h"

namespace rimeward {
namespace {

// About `mean`, up and down by `by` in turn.
Differences seen(int nights, double mean, double by) {
  Differences differences;
  for (int night = 0; night < nights; ++night) {
    differences.learn("yard", {mean + (night % 2 == 0 ? by : -by)});
  }
  return differences;
}

TEST_CASE("fewer than five nights tell no difference") {
  CHECK_FALSE(Differences{}.to("yard"));
  CHECK_FALSE(seen(4, 2.0, 0.5).to("yard"));
  CHECK(seen(5, 2.0, 0.5).to("yard"));
  CHECK_FALSE(seen(5, 2.0, 0.5).to("pea-bed"));
}

TEST_CASE("the difference is the mean of what was seen, and its spread the scatter") {
  const auto difference = seen(40, 2.0, 1.0).to("yard");
  REQUIRE(difference);
  CHECK(difference->nights == 40);
  CHECK(std::abs(difference->mean.degrees - 2.0) < 0.1);
  CHECK(difference->spread.degrees > 1.0);
  CHECK(difference->spread.degrees < 1.2);
}

TEST_CASE("after few nights a difference is less sure than after many") {
  CHECK(seen(6, 2.0, 1.0).to("yard")->spread > seen(40, 2.0, 1.0).to("yard")->spread);
  // Five nights alike say little of the sixth.
  CHECK(seen(5, 2.0, 0.0).to("yard")->spread.degrees > 0.8);
}

TEST_CASE("however alike the nights were, a difference is never certain") {
  CHECK(seen(1'000, 2.0, 0.0).to("yard")->spread.degrees > 0.3);
}

TEST_CASE("a difference that changes is followed within a month or two") {
  Differences differences = seen(100, 2.0, 0.5);
  for (int night = 0; night < 60; ++night)
    differences.learn("yard", {-1.0});
  CHECK(std::abs(differences.to("yard")->mean.degrees + 1.0) < 0.4);
}

TEST_CASE("one absurd night moves a difference by little") {
  Differences differences = seen(100, 2.0, 0.5);
  const Difference before = *differences.to("yard");
  differences.learn("yard", {-60.0});
  CHECK(std::abs((*differences.to("yard")).mean.degrees - before.mean.degrees) < 0.1);
  CHECK(differences.to("yard")->spread.degrees < 2.0 * before.spread.degrees);
}

TEST_CASE(
    "another place's outlook is moved by the difference and widened by its spread") {
  Outlook others;
  others.solar_day = 20'000;
  others.moment = Moment::kDark;
  others.low = {1.0};
  others.spread_below = {1.5};
  others.spread_above = {2.0};
  others.running_low = Celsius{3.0};
  others.air = {4.0};
  others.dew_point = Celsius{0.0};
  others.last_low = Celsius{2.0};
  others.leverage = 0.2;
  others.humidity_known = true;
  others.features = {1.0, 0.5};
  const Outlook here = stand_in(others, {{-2.5}, {2.0}, 30});
  CHECK(here.low == Celsius{-1.5});
  CHECK(here.air == Celsius{1.5});
  CHECK(here.spread_below.degrees == doctest::Approx(2.5));  // of 1.5 and 2
  CHECK(here.spread_above.degrees == doctest::Approx(std::sqrt(8.0)));
  CHECK(here.low10 == here.low - range_side(here.spread_below));
  CHECK(here.low90 == here.low + range_side(here.spread_above));
  CHECK(here.solar_day == others.solar_day);
  CHECK(here.moment == others.moment);
  CHECK_FALSE(here.running_low);
  CHECK_FALSE(here.dew_point);
  CHECK_FALSE(here.last_low);
  CHECK_FALSE(here.humidity_known);
  CHECK(here.leverage == 0.0);
  CHECK(here.features == FeatureArray{});
}

TEST_CASE("restored differences go on to the last bit") {
  Differences differences;
  for (int night = 0; night < 40; ++night) {
    auto restored = Differences::restore(differences.save());
    REQUIRE(restored);
    CHECK(*restored == differences);
    for (Differences* each : {&differences, &*restored}) {
      each->learn("yard", {0.1 * night});
      if (night % 3 == 0) each->learn("pea-bed", {1.0 / 3.0 - night});
    }
    CHECK(*restored == differences);
  }
  CHECK(differences.to("pea-bed")->nights == 14);
}

TEST_CASE("differences that cannot have been saved are not restored, and are told") {
  const std::string sound = seen(5, 2.0, 0.5).save();
  REQUIRE(Differences::restore(sound));
  const auto changed = [&sound](std::string_view from, std::string_view to) {
    return with_changed(sound, from, to);
  };
  check_not_restored<Differences>(
      {std::string{}, sound.substr(0, sound.size() / 2), std::string{"[1,2]"},
       changed("\"version\":1", "\"version\":2"), changed("\"places\"", "\"beds\""),
       changed("\"nights\":5", "\"nights\":0"),
       changed("\"nights\":5", "\"nights\":2000000000"),
       changed("\"mean\":", "\"mean\":1e999,\"x\":"),
       changed("\"variance\":", "\"variance\":-"),
       changed("\"nights\":5", "\"nights\":\"five\"")},
      "saved differences: ");
}

}  // namespace
}  // namespace rimeward
