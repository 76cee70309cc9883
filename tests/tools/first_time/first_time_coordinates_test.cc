#include "tools/cli/first_time/first_time_coordinates.h"

#include <random>
#include <string>
#include <string_view>

#include <doctest/doctest.h>
#include <fmt/format.h>

namespace rimeward {
namespace {

struct Written {
  std::string_view text;
  double latitude;
  double longitude;
};

TEST_CASE("coordinates are read in every form that people write them in") {
  constexpr Written kForms[]{
      {"48.41, 9.52", 48.41, 9.52},
      {"48.41 9.52", 48.41, 9.52},
      {"48.41,9.52", 48.41, 9.52},
      {"48.41; 9.52", 48.41, 9.52},
      {"48,41 9,52", 48.41, 9.52},
      {"48,41, 9,52", 48.41, 9.52},
      {"48,41; 9,52", 48.41, 9.52},
      {"48,9", 48, 9},
      {"48.41 N 9.52 E", 48.41, 9.52},
      {"48.41N, 9.52E", 48.41, 9.52},
      {"N 48.41 E 9.52", 48.41, 9.52},
      {"9.52 e, 48.41 n", 48.41, 9.52},
      {"48.41° N, 9.52° E", 48.41, 9.52},
      {"48.41° 9.52°", 48.41, 9.52},
      {"48°24'36\"N 9°31'12\"E", 48.41, 9.52},
      {"48° 24′ 36″ N, 9° 31′ 12″ E", 48.41, 9.52},
      {"48°24'36''N 9°31'12''E", 48.41, 9.52},
      {"N 48 24.6, E 9 31.2", 48.41, 9.52},
      {"48 24 36 N 9 31 12 E", 48.41, 9.52},
      {"48°24'36\" 9°31'12\"", 48.41, 9.52},
      {"48°24'36,0\"N 9°31'12,0\"E", 48.41, 9.52},
      {"-33.92, 18.42", -33.92, 18.42},
      {"33.92 S 18.42 E", -33.92, 18.42},
      {"-33.92 -70.5", -33.92, -70.5},
      {"−33.92, −70.5", -33.92, -70.5},
      {"40°42'46\"N 74°0'22\"W", 40.7128, -74.0061},
      {"-48°24'36\" -9°31'12\"", -48.41, -9.52},
      {"90 N 180 W", 90, -180},
      {"0 S, 0 W", 0, 0},
      {"+48.41 +9.52", 48.41, 9.52},
  };
  for (const Written& form : kForms) {
    CAPTURE(form.text);
    const auto position = position_from_text(form.text);
    REQUIRE_MESSAGE(position, (position ? "" : position.error().message));
    CHECK(position->latitude == doctest::Approx(form.latitude).epsilon(1e-9));
    CHECK(position->longitude == doctest::Approx(form.longitude).epsilon(1e-9));
  }
}

TEST_CASE("what is no place on the globe is refused with what would be") {
  struct Refused {
    std::string_view text;
    std::string_view says;
  };
  constexpr Refused kTexts[]{
      {"", "not two numbers"},
      {"here", "not two numbers"},
      {"48.41", "not two numbers"},
      {"1 2 3", "not two numbers"},
      {"95, 9.52", "beyond the pole"},
      {"-90.01, 9", "beyond the pole"},
      {"48.41, 181", "out of range"},
      {"48.41 N 9.52 S", "one of N or S and one of E or W"},
      {"48.41 E 9.52 W", "one of N or S and one of E or W"},
      {"-48.41 S 9.52 E", "leave one out"},
      {"48°61'N 9°E", "write both in degrees"},
      {"48.5°30'N 9°E", "write both in degrees"},
      {"48°24'36\"12 N 9 E", "write both in degrees"},
      {"48.41, 9.52, 7", "write both in degrees"},
      {"nan, inf", "not two numbers"},
      {"48.4.1, 9.52", "not two numbers"},
      {"1e3, 5", "write both in degrees"},
      {", 9.52", "not two numbers"},
  };
  for (const Refused& refused : kTexts) {
    CAPTURE(refused.text);
    const auto position = position_from_text(refused.text);
    REQUIRE_FALSE(position);
    CAPTURE(position.error().message);
    CHECK(position.error().message.find(refused.says) != std::string::npos);
  }
}

TEST_CASE("a position is said back with its directions") {
  CHECK(position_text({48.41, 9.52}) == "48.41 north, 9.52 east");
  CHECK(position_text({-33.92, -70.5}) == "33.92 south, 70.5 west");
}

TEST_CASE("any position is read back from how it is written") {
  std::mt19937 random(7);
  std::uniform_int_distribution<int> latitudes(-900'000, 900'000);
  std::uniform_int_distribution<int> longitudes(-1'800'000, 1'800'000);
  for (int round = 0; round < 500; ++round) {
    const double latitude = latitudes(random) / 10'000.0;
    const double longitude = longitudes(random) / 10'000.0;
    for (const std::string& text :
         {fmt::format("{}, {}", latitude, longitude),
          fmt::format("{} {}", latitude, longitude),
          fmt::format("{:.4f} {} {:.4f} {}", std::abs(latitude), latitude < 0 ? 'S' : 'N',
                      std::abs(longitude), longitude < 0 ? 'W' : 'E')}) {
      CAPTURE(text);
      const auto position = position_from_text(text);
      REQUIRE(position);
      CHECK(position->latitude == latitude);
      CHECK(position->longitude == longitude);
    }
  }
}

TEST_CASE("bytes of any kind are refused or are a place on the globe") {
  std::mt19937 random(8);
  constexpr std::string_view kBytes =
      "0123456789.,;-+ NSEWnsew'\"\xc2\xb0\xe2\x80\x99\xff\n";
  for (int round = 0; round < 20'000; ++round) {
    std::string text;
    for (std::size_t i = random() % 24; i > 0; --i)
      text += kBytes[random() % kBytes.size()];
    const auto position = position_from_text(text);
    if (!position) {
      CHECK(position.error().message.find('\xff') == std::string::npos);
      continue;
    }
    CAPTURE(text);
    CHECK(std::abs(position->latitude) <= 90);
    CHECK(std::abs(position->longitude) <= 180);
  }
}

}  // namespace
}  // namespace rimeward
