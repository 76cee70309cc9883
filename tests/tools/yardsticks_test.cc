#include "tools/yardsticks.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include <doctest/doctest.h>

#include "daemon/climate/fao_regression.h"

using namespace rimeward;

namespace {

JudgedNight night(double air, double dew_point, double last_low, double came) {
  JudgedNight one;
  one.outlook.air = Celsius{air};
  one.outlook.dew_point = Celsius{dew_point};
  one.outlook.last_low = Celsius{last_low};
  one.came = Celsius{came};
  return one;
}

// The ten radiation-frost nights of FAO Frost Protection vol. 1 (Snyder & de Melo-Abreu
// 2005), ch. 5: air and dew point two hours after sunset, and the low that came. The
// book's two-step fit on them, computed anew, is 0.50281, 0.02647, -5.82199.
const std::vector<JudgedNight> kFaoNights{
    night(3.2, -4.2, 0, -3.1),    night(0.8, -8.8, -3.1, -5.0),
    night(0.2, -6.5, -5.0, -6.3), night(2.6, -6.2, -6.3, -5.4),
    night(4.4, -6.1, -5.4, -4.0), night(5.2, 2.6, -4.0, -2.5),
    night(2.7, -0.7, -2.5, -4.8), night(1.2, -1.7, -4.8, -5.0),
    night(4.5, -1.2, -5.0, -4.4), night(5.6, 0.1, -4.4, -3.3)};

constexpr std::size_t kLastNight = 0;
constexpr std::size_t kMeanFall = 1;
constexpr std::size_t kFao = 2;

std::optional<SimpleForecast> said(std::size_t yardstick,
                                   std::span<const JudgedNight> past,
                                   const Outlook& tonight) {
  return simple_forecasts(past, tonight, Celsius{0}).at(yardstick);
}

// Nights of much the same weather, with outlooks that are a little off.
std::vector<JudgedNight> invented_nights(int count) {
  std::vector<JudgedNight> nights;
  double last = 1.0;
  for (int i = 0; i < count; ++i) {
    const double wave = std::sin(0.7 * i);
    const double came = 1.0 + 3.0 * wave + 0.5 * std::cos(2.3 * i);
    JudgedNight one = night(9.0 + 4.0 * wave, 2.0 + std::sin(1.9 * i), last, came);
    one.outlook.low = Celsius{came + 0.4 * std::cos(1.1 * i)};
    one.outlook.spread_below = one.outlook.spread_above = Kelvins{0.5};
    nights.push_back(one);
    last = came;
  }
  return nights;
}

const Compared& entry(const Comparison& comparison, std::string_view key) {
  return *std::ranges::find(comparison.entries, key, &Compared::key);
}

}  // namespace

TEST_CASE("last night's low is a forecast of tonight's") {
  CHECK(said(kLastNight, {}, kFaoNights[3].outlook)->low == Celsius{-6.3});
  Outlook first = kFaoNights[3].outlook;
  first.last_low.reset();
  CHECK_FALSE(said(kLastNight, {}, first));
}

TEST_CASE("the mean fall needs fourteen nights, and takes the last fourteen") {
  std::vector<JudgedNight> past(1, night(20, 0, 0, 0));  // a fall of 20, long ago
  for (int i = 0; i < 14; ++i)
    past.push_back(night(8, 0, 0, i % 2 == 0 ? 2 : 4));
  const Outlook tonight = night(10, 0, 0, 0).outlook;
  CHECK_FALSE(said(kMeanFall, std::span(past).first(13), tonight));
  CHECK(said(kMeanFall, past, tonight)->low.degrees == doctest::Approx(5.0));
}

TEST_CASE("the FAO regression is fitted to past nights alone, in the book's two steps") {
  CHECK_FALSE(said(kFao, std::span(kFaoNights).first(2), kFaoNights[2].outlook));
  const Outlook tonight = night(3.0, -2.0, 0, 0).outlook;
  CHECK(said(kFao, kFaoNights, tonight)->low.degrees ==
        doctest::Approx(0.50281 * 3.0 + 0.02647 * -2.0 - 5.82199).epsilon(0.0001));
  Outlook dry = tonight;
  dry.dew_point.reset();
  CHECK_FALSE(said(kFao, kFaoNights, dry));
}

TEST_CASE("the FAO regression is fitted anew each night, as if to all nights at once") {
  const auto nights = invented_nights(200);
  for (const std::size_t count : {3U, 20U, 199U}) {
    CAPTURE(count);
    const Outlook& tonight = nights[count].outlook;
    FaoNights fao;
    for (const JudgedNight& one : std::span(nights).first(count))
      fao.learn({one.outlook.air, *one.outlook.dew_point, one.came});
    const auto fit = fao.fit_two_step();
    REQUIRE(fit);
    CHECK(said(kFao, std::span(nights).first(count), tonight)->low.degrees ==
          doctest::Approx(predict(*fit, tonight.air, *tonight.dew_point).degrees));
  }
}

TEST_CASE("air or dew points that are all alike leave the FAO regression silent") {
  const std::vector<JudgedNight> same(20, night(4.1, 1.3, 0, 1));
  CHECK_FALSE(said(kFao, same, night(3, 1, 0, 0).outlook));
}

TEST_CASE("a yardstick's odds are as wide as its own errors were, once it had five") {
  // Last night's low was off by 1 and by 3 in turn: 2 in the mean, which a normal curve
  // with a standard deviation of 2 sqrt(pi/2) has.
  std::vector<JudgedNight> past;
  for (int i = 0; i < 6; ++i)
    past.push_back(night(8, 0, 0, i % 2 == 0 ? 1 : -3));
  const Outlook tonight = night(8, 0, 2.5066, 0).outlook;
  CHECK_FALSE(said(kLastNight, std::span(past).first(4), tonight)->odds);
  CHECK(said(kLastNight, past, tonight)->odds->value ==
        doctest::Approx(0.158655).epsilon(0.001));  // one standard deviation off
}

TEST_CASE("yardsticks are compared with the outlook on the same nights") {
  const auto nights = invented_nights(40);
  const Comparison comparison = compare(nights, 14, Celsius{0});
  REQUIRE(comparison.entries.size() == 5);
  // The mean fall has odds from its sixth forecast on, in the 20th night.
  CHECK(comparison.nights == 40 - 19);
  double errors = 0;
  double last_errors = 0;
  double squares = 0;
  for (std::size_t i = 19; i < 40; ++i) {
    const JudgedNight& one = nights[i];
    errors += std::abs((one.outlook.low - one.came).degrees);
    last_errors += (*one.outlook.last_low - one.came).degrees;
    squares += std::pow(
        odds_below(one.outlook, Celsius{0}).value - (one.came <= Celsius{0} ? 1.0 : 0.0),
        2);
  }
  CHECK(entry(comparison, "outlook").mean_absolute_error->degrees ==
        doctest::Approx(errors / 21));
  CHECK(entry(comparison, "as_last_night").bias->degrees ==
        doctest::Approx(last_errors / 21));
  CHECK(entry(comparison, "outlook").brier == doctest::Approx(squares / 21));
  CHECK(*entry(comparison, "as_last_night").brier > *entry(comparison, "outlook").brier);
}

TEST_CASE("the share of nights so far is a baseline for odds and has no low") {
  // Every fourth night comes to 0; the share of those before a night, by hand.
  std::vector<JudgedNight> nights;
  for (int i = 0; i < 24; ++i)
    nights.push_back(night(8 + i % 3, i % 5, 1, i % 4 == 0 ? -1 : 2 + 0.1 * (i % 3)));
  const Comparison comparison = compare(nights, 14, Celsius{0});
  REQUIRE(comparison.nights == 5);  // nights 19 to 23
  double squares = 0;
  for (int i = 19; i < 24; ++i) {
    const double share = ((i + 3) / 4) / static_cast<double>(i);
    squares += std::pow(share - (i % 4 == 0 ? 1.0 : 0.0), 2);
  }
  const Compared& past = entry(comparison, "share_so_far");
  CHECK(past.brier == doctest::Approx(squares / 5));
  CHECK_FALSE(past.mean_absolute_error);
}

TEST_CASE("what is silent on most nights does not cost the others their nights") {
  auto nights = invented_nights(40);
  for (JudgedNight& one : nights)
    one.outlook.dew_point.reset();
  const Comparison dry = compare(nights, 14, Celsius{0});
  CHECK(dry.nights == 21);
  CHECK_FALSE(entry(dry, "fao_regression").brier);
  CHECK_FALSE(entry(dry, "fao_regression").mean_absolute_error);
  CHECK(entry(dry, "mean_fall").brier);
  nights = invented_nights(40);
  nights[30].outlook.dew_point.reset();
  const Comparison one_dry = compare(nights, 14, Celsius{0});
  CHECK(one_dry.nights == 20);
  CHECK(entry(one_dry, "fao_regression").brier);
}

TEST_CASE("too few nights compare nothing") {
  for (const int count : {0, 3, 14, 16}) {
    CAPTURE(count);
    const Comparison comparison =
        compare(invented_nights(count), static_cast<std::size_t>(std::min(count, 14)),
                Celsius{0});
    CHECK_FALSE(entry(comparison, "mean_fall").brier);
    CHECK((comparison.nights == 0) == (count <= 14));
  }
}
