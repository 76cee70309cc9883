#include "daemon/climate/opinion.h"

#include <array>
#include <cmath>
#include <optional>
#include <random>
#include <string>
#include <string_view>
#include <vector>

#include <doctest/doctest.h>

#include "daemon/climate/judge.h"
#include "daemon/climate/judge_limits.h"
#include "tests/support/saved_text.h"

namespace rimeward {
namespace {

constexpr double kSpread = 2.0;  // of the own outlook, in kelvins

// Evenly distributed numbers of mean 0 and deviation 1, twelve at a time: near enough to
// a normal curve, and the same with every library.
class Chance {
 public:
  explicit Chance(unsigned seed) : random_(seed) {}
  double normal() {
    double sum = -6.0;
    for (int i = 0; i < 12; ++i)
      sum += static_cast<double>(random_()) / 4294967296.0;
    return sum;
  }

 private:
  std::mt19937 random_;
};

Outlook own_outlook(double low, Moment moment = Moment::kDusk) {
  Outlook own;
  own.moment = moment;
  own.low = {low};
  own.spread_below = own.spread_above = {kSpread};
  own.low10 = own.low - range_side(own.spread_below);
  own.low90 = own.low + range_side(own.spread_above);
  return own;
}

struct Night {
  Outlook own;
  Celsius said;
  Celsius low;
};

// Nights whose lows the own outlook misses by 2 K, usually. `says` makes the opinion from
// the low and a random number.
template <class Says>
std::vector<Night> nights(int count, unsigned seed, Says says) {
  Chance chance(seed);
  std::vector<Night> all;
  for (int night = 0; night < count; ++night) {
    const double low = 3.0 + 5.0 * chance.normal();
    const double own = low + kSpread * chance.normal();
    all.push_back({own_outlook(own), {says(low, chance.normal())}, {low}});
  }
  return all;
}

double good(double low, double chance) {
  return low - 3.0 + chance;
}

double worthless(double /*low*/, double chance) {
  return 3.0 + 5.0 * chance;
}

void learn_all(Opinion& opinion, const std::vector<Night>& all) {
  for (const Night& night : all)
    opinion.learn(night.own, night.said, night.low);
}

struct Errors {
  double own = 0.0;  // mean
  double blended = 0.0;
  double held = 0.0;  // share of the nights in the range
};

// Learning goes on meanwhile.
Errors errors_over(Opinion& opinion, const std::vector<Night>& all) {
  Errors errors;
  const auto count = static_cast<double>(all.size());
  for (const Night& night : all) {
    const Outlook blend = opinion.blended(night.own, night.said);
    errors.own += std::abs((night.low - night.own.low).degrees) / count;
    errors.blended += std::abs((night.low - blend.low).degrees) / count;
    if (night.low >= blend.low10 && night.low <= blend.low90) errors.held += 1.0 / count;
    opinion.learn(night.own, night.said, night.low);
  }
  return errors;
}

TEST_CASE("an opinion of which no night was seen changes nothing") {
  const Outlook own = own_outlook(1.5);
  CHECK(Opinion{}.blended(own, {-4.0}) == own);
  CHECK(Opinion{}.blended(own, {9.0}) == own);
}

TEST_CASE(
    "a good opinion is trusted after fifteen nights, whatever it is always off by") {
  double own = 0.0;
  double blended = 0.0;
  for (unsigned seed = 1; seed <= 40; ++seed) {
    Opinion opinion;
    learn_all(opinion, nights(15, seed, good));
    const Errors errors = errors_over(opinion, nights(10, 100 + seed, good));
    own += errors.own;
    blended += errors.blended;
  }
  CHECK(blended < 0.65 * own);
}

TEST_CASE("a good opinion halves the error in the end, and the range narrows with it") {
  Opinion opinion;
  learn_all(opinion, nights(60, 1, good));
  const auto later = nights(400, 2, good);
  const Errors errors = errors_over(opinion, later);
  // Two independent errors of 2 K and 1 K leave 0.89 K when they are weighted best.
  CHECK(errors.blended < 0.5 * errors.own);
  CHECK(errors.held > 0.75);
  CHECK(errors.held < 0.85);
  const Outlook blend = opinion.blended(later.back().own, later.back().said);
  CHECK(blend.spread_below.degrees < 0.6 * kSpread);
  CHECK(blend.spread_above.degrees < 0.6 * kSpread);
}

TEST_CASE("an opinion that is perfect but for a constant is followed") {
  Opinion opinion;
  const auto off_by_five = [](double low, double) { return low + 5.0; };
  learn_all(opinion, nights(60, 3, off_by_five));
  const Errors errors = errors_over(opinion, nights(100, 4, off_by_five));
  CHECK(errors.blended < 0.3 * errors.own);
}

TEST_CASE("an opinion that is worth nothing costs less than one percent") {
  const auto constant = [](double, double) { return 4.0; };
  const auto of_another_climate = [](double, double chance) { return 25 + 3 * chance; };
  const auto upside_down = [](double low, double chance) { return 6 - low + chance; };
  const auto cost = [](const auto& says) {
    double own = 0.0;
    double blended = 0.0;
    for (unsigned seed = 1; seed <= 10; ++seed) {
      Opinion opinion;
      const Errors errors = errors_over(opinion, nights(180, seed, says));
      own += errors.own;
      blended += errors.blended;
    }
    return blended / own - 1.0;
  };
  CHECK(cost(worthless) < 0.01);
  CHECK(cost(constant) < 0.01);
  CHECK(cost(of_another_climate) < 0.01);
  CHECK(cost(upside_down) < 0.01);
}

TEST_CASE("an opinion that has gone bad is left within a few weeks") {
  Opinion opinion;
  learn_all(opinion, nights(150, 5, good));
  learn_all(opinion, nights(25, 6, worthless));
  const Errors errors = errors_over(opinion, nights(150, 7, worthless));
  CHECK(errors.blended < 1.05 * errors.own);
}

TEST_CASE("an opinion in another unit all of a sudden is not heard") {
  Opinion opinion;
  learn_all(opinion, nights(100, 8, good));
  const Outlook own = own_outlook(2.0);
  const Celsius usual{-1.0};
  const Celsius in_fahrenheit{30.2};
  CHECK(opinion.blended(own, usual) != own);
  CHECK(opinion.blended(own, in_fahrenheit) == own);
  // Nor does one such night undo what was learned.
  const Celsius before = opinion.blended(own, usual).low;
  opinion.learn(own, in_fahrenheit, {2.0});
  CHECK(std::abs((opinion.blended(own, usual).low - before).degrees) < 0.5);
}

TEST_CASE("with an opinion, too, the low stays at or below the lowest that was read") {
  Opinion opinion;
  learn_all(opinion, nights(100, 9, good));
  Outlook own = own_outlook(2.0);
  own.running_low = own.low90 = Celsius{2.5};
  const Outlook warmer = opinion.blended(own, {5.0});
  CHECK(warmer.low > own.low);
  CHECK(warmer.low <= Celsius{2.5});
  CHECK(warmer.low90 == Celsius{2.5});
  CHECK(warmer.running_low == own.running_low);
  CHECK(odds_below(warmer, {2.5}).value == 1.0);
  CHECK(opinion.blended(own, {-4.0}).low < own.low);
}

TEST_CASE("what the place's own regressions learn from is not touched by an opinion") {
  Opinion opinion;
  learn_all(opinion, nights(100, 10, good));
  Outlook own = own_outlook(2.0);
  own.features = {1.0, 0.4, -0.2};
  own.leverage = 0.3;
  own.air = {9.0};
  own.dew_point = Celsius{4.0};
  own.last_low = Celsius{1.0};
  Outlook blend = opinion.blended(own, {-2.0});
  CHECK(blend.low != own.low);
  blend.low = own.low;
  blend.low10 = own.low10;
  blend.low90 = own.low90;
  blend.spread_below = own.spread_below;
  blend.spread_above = own.spread_above;
  CHECK(blend == own);
}

TEST_CASE("each moment learns for itself what an opinion is worth") {
  Opinion opinion;
  learn_all(opinion, nights(100, 11, good));
  const Outlook late = own_outlook(2.0, Moment::kLate);
  CHECK(opinion.blended(late, {-2.0}) == late);
}

TEST_CASE("no number of equal nights leads to a range of no width") {
  Opinion opinion;
  const Outlook own = own_outlook(2.0);
  for (int night = 0; night < 5'000; ++night)
    opinion.learn(own, {2.0}, {2.0});
  CHECK(opinion.blended(own, {2.0}).spread_below.degrees > 0.05);
  CHECK(Opinion::restore(opinion.save()));
}

TEST_CASE("a restored opinion goes on to the last bit") {
  const auto all = nights(40, 12, good);
  Opinion opinion;
  for (const Night& night : all) {
    auto restored = Opinion::restore(opinion.save());
    REQUIRE(restored);
    CHECK(*restored == opinion);
    opinion.learn(night.own, night.said, night.low);
    restored->learn(night.own, night.said, night.low);
    CHECK(*restored == opinion);
    CHECK(restored->blended(all[0].own, all[0].said) ==
          opinion.blended(all[0].own, all[0].said));
  }
}

TEST_CASE("what no opinion can have saved is not restored, and is told") {
  const std::string sound = Opinion{}.save();
  REQUIRE(Opinion::restore(sound));
  const auto changed = [&sound](std::string_view from, std::string_view to) {
    return with_changed(sound, from, to);
  };
  check_not_restored<Opinion>(
      {std::string{}, sound.substr(0, sound.size() / 2), std::string{"[1,2]"},
       changed("\"version\":1", "\"version\":2"), changed("\"dark\"", "\"noon\""),
       changed("\"error\":1.0", "\"error\":0.0"),
       changed("\"error\":1.0", "\"error\":null"),
       changed("\"nights\":0.0", "\"nights\":-1"),
       changed("\"nights\":0.0", "\"nights\":201"), changed("\"said\":0.0", "\"said\":1"),
       changed("\"stretch_above\":1.0", "\"stretch_above\":9"),
       changed("\"credit\":-2.0", "\"credit\":40"),
       changed("\"came\":0.0", "\"came\":1e999")},
      "saved opinion: ");
}

TEST_CASE("a forecast is doubted only where no night could be so cold or so warm") {
  const SensorType* probe = find_sensor_type("dht22");
  for (const double said : {-60.0, -45.0, 0.0, 50.0}) {
    CHECK(implausible(Channel::kForecastLow, said, probe).doubt == Doubt::kNone);
  }
  // Neither is what a probe says for want of a value.
  CHECK(implausible(Channel::kForecastLow, 85.0, nullptr).why ==
        "outside what forecast_low can be: -60 to 50 °C");
  CHECK(implausible(Channel::kForecastLow, -127.0, nullptr).doubt == Doubt::kRange);
  CHECK(judge_limits(Channel::kForecastLow) == nullptr);
}

}  // namespace
}  // namespace rimeward
