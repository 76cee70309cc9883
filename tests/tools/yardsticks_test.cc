#include "tools/yardsticks.h"

#include <doctest/doctest.h>

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

}  // namespace

TEST_CASE("last night's low is a forecast of tonight's, and its mean error is counted") {
  const Yardstick& as_last_night = yardsticks()[0];
  CHECK(as_last_night.forecast({}, kFaoNights[3].outlook) == Celsius{-6.3});
  // From the second night on: |-3.1+5.0| + |-5.0+6.3| + ... over nine nights.
  const auto error = mean_absolute_error(as_last_night, kFaoNights, 1);
  REQUIRE(error);
  CHECK(error->degrees ==
        doctest::Approx((1.9 + 1.3 + 0.9 + 1.4 + 1.5 + 2.3 + 0.2 + 0.6 + 1.1) / 9));
}

TEST_CASE("the mean fall needs fourteen nights, and takes the last fourteen") {
  const Yardstick& mean_fall = yardsticks()[1];
  std::vector<JudgedNight> past(1, night(20, 0, 0, 0));  // a fall of 20, long ago
  for (int i = 0; i < 14; ++i)
    past.push_back(night(8, 0, 0, i % 2 == 0 ? 2 : 4));
  const Outlook tonight = night(10, 0, 0, 0).outlook;
  CHECK_FALSE(mean_fall.forecast(std::span(past).first(13), tonight));
  CHECK(mean_fall.forecast(past, tonight)->degrees == doctest::Approx(5.0));
}

TEST_CASE("the FAO regression is fitted to past nights alone, in the book's two steps") {
  const Yardstick& fao = yardsticks()[2];
  CHECK_FALSE(fao.forecast(std::span(kFaoNights).first(2), kFaoNights[2].outlook));
  const Outlook tonight = night(3.0, -2.0, 0, 0).outlook;
  CHECK(fao.forecast(kFaoNights, tonight)->degrees ==
        doctest::Approx(0.50281 * 3.0 + 0.02647 * -2.0 - 5.82199).epsilon(0.0001));
  Outlook dry = tonight;
  dry.dew_point.reset();
  CHECK_FALSE(fao.forecast(kFaoNights, dry));
}
