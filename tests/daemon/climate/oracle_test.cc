// The climate arithmetic against reference libraries over wide grids: see
// tests/oracles/README.md.

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "daemon/climate/humidity.h"
#include "daemon/climate/sun.h"
#include "tests/daemon/climate/outlook_replay.h"

namespace rimeward {
namespace {

// The folder that tests/oracles/make wrote to. A variable that names none is an error:
// the comparison was asked for.
std::optional<std::filesystem::path> oracles() {
  // No test changes the environment.
  const char* folder = std::getenv("RIMEWARD_ORACLES");  // NOLINT(concurrency-mt-unsafe)
  if (folder != nullptr) return folder;
  MESSAGE("skipped: RIMEWARD_ORACLES names no folder, see tests/oracles/README.md");
  return std::nullopt;
}

double off_by(double computed, double reference) {
  return std::abs(computed / reference - 1.0);
}

// One row of moist_air.csv. The library takes saturation over ice below 0.01 degrees C,
// and its humidity so too: the vapour pressure is what both sides are given.
struct MoistAir {
  Celsius air;
  Hectopascals pressure;
  Kilopascals saturation;
  Kilopascals vapour;
  Celsius dew_or_frost;
  Celsius wet_bulb;
  Kilopascals deficit;
  GramsPerCubicMetre absolute;

  bool frozen() const { return air.degrees < 0.01; }
  RelativeHumidity humidity() const { return relative_humidity(vapour, air); }
};

std::vector<MoistAir> moist_air(const std::filesystem::path& folder) {
  std::vector<MoistAir> all;
  for (const auto& row : read_table(folder / "moist_air.csv")) {
    const auto number = [&row](const char* name) { return number_from(row.at(name)); };
    all.push_back({.air = {number("air_c")},
                   .pressure = {number("pressure_pa") / 100.0},
                   .saturation = {number("saturation_pa") / 1000.0},
                   .vapour = {number("vapour_pa") / 1000.0},
                   .dew_or_frost = {number("dew_or_frost_c")},
                   .wet_bulb = {number("wet_bulb_c")},
                   .deficit = {number("deficit_pa") / 1000.0},
                   .absolute = {number("absolute_g_m3")}});
  }
  // 81 temperatures, 21 humidities, 4 pressures.
  REQUIRE(all.size() == 6804);
  return all;
}

// Within an hour of the sun's midnight or noon the sun only grazes the height that it
// passes: the library's two steps from noon's sun do not settle there.
bool grazes(double at, double noon) {
  const double from_noon = std::abs(at - noon);
  return from_noon > 11.0 * 3600.0 || from_noon < 3600.0;
}

// Seconds. 3 are the equation of time's short form (Meeus, ch. 28), which the library,
// with sidereal time, does without; the rest is what its steps leave where the sun's path
// is flat.
double tolerance_at(double at, double noon, Position position) {
  if (grazes(at, noon)) return 360.0;
  return std::abs(position.latitude) < 55.0 ? 4.0 : 20.0;
}

struct Event {
  SunHeight height;
  const char* rise;
  const char* set;
};
constexpr std::array kEvents{
    Event{SunHeight::kHorizon, "sunrise", "sunset"},
    Event{SunHeight::kCivil, "civil_dawn", "civil_dusk"},
    Event{SunHeight::kNautical, "nautical_dawn", "nautical_dusk"},
    Event{SunHeight::kAstronomical, "astronomical_dawn", "astronomical_dusk"}};

void check_event(const std::optional<SunTime>& computed, const std::string& said,
                 double noon, Position position) {
  // Whether the sun still passes a height on a day when it grazes it is decided by less
  // than the library's error; on every other day both have the event, or neither.
  if (said.empty()) {
    CHECK((!computed || grazes(computed->time_since_epoch().count(), noon)));
    return;
  }
  const double theirs = number_from(said);
  if (!computed) {
    CHECK(grazes(theirs, noon));
    return;
  }
  const double ours = computed->time_since_epoch().count();
  CHECK(std::abs(ours - theirs) < tolerance_at(theirs, noon, position));
}

}  // namespace

// psychrolib takes the saturation pressure of ASHRAE's handbook (Hyland & Wexler 1983),
// which is itself within 0.022 % of IAPWS from 0 to 50 degrees. Buck's form is within
// 0.042 % there, and to the same side.
TEST_CASE("saturation pressures are those of the reference library") {
  const auto folder = oracles();
  if (!folder) return;
  for (const MoistAir& row : moist_air(*folder)) {
    const Kilopascals ours = row.frozen() ? saturation_pressure_over_ice(row.air)
                                          : saturation_pressure(row.air);
    CAPTURE(row.air.degrees);
    CHECK(off_by(ours.kilopascals, row.saturation.kilopascals) < 0.0003);
  }
}

// 0.022 % of pressure is 0.004 degrees of dew point at most. The frost points reach down
// to -67 degrees, where the WMO's form over ice has gone 0.25 % off.
TEST_CASE("dew and frost points are those of the reference library") {
  const auto folder = oracles();
  if (!folder) return;
  for (const MoistAir& row : moist_air(*folder)) {
    const bool frost = row.dew_or_frost.degrees < 0.01;
    const auto ours = frost ? frost_point(row.vapour) : dew_point(row.vapour);
    CAPTURE(row.dew_or_frost.degrees);
    REQUIRE(ours);
    const double tolerance = row.dew_or_frost.degrees < -40.0 ? 0.025 : 0.005;
    CHECK(std::abs((*ours - row.dew_or_frost).degrees) < tolerance);
  }
}

// The library's wet bulb is the thermodynamic one, ours what an aspirated psychrometer
// shows: the constants of the two differ by 1 %, and with them how far the bulb cools.
TEST_CASE("wet bulbs are those of the reference library") {
  const auto folder = oracles();
  if (!folder) return;
  int either = 0;
  for (const MoistAir& row : moist_air(*folder)) {
    const Celsius ours = wet_bulb(row.air, row.humidity(), row.pressure);
    CAPTURE(row.air.degrees);
    CAPTURE(row.humidity().percent);
    CAPTURE(row.pressure.hectopascals);
    if (ours >= Celsius{0.0} && row.wet_bulb < Celsius{0.0}) {
      // The band in which the wick may be water or ice: we say water, its search either.
      ++either;
      CHECK(ours < Celsius{0.5});
      CHECK(row.wet_bulb > Celsius{-0.8});
      continue;
    }
    const double cooled = (row.air - row.wet_bulb).degrees;
    CHECK(std::abs((ours - row.wet_bulb).degrees) < 0.013 + 0.0125 * cooled);
  }
  // So few of 6,804 that the rest still says something.
  CHECK(either < 30);
}

// By FAO-56's saturation pressure, 0.11 % off the library's at 50 degrees.
TEST_CASE("vapour pressure deficits are those of the reference library") {
  const auto folder = oracles();
  if (!folder) return;
  for (const MoistAir& row : moist_air(*folder)) {
    // Over ice the library's deficit is another quantity.
    if (row.frozen()) continue;
    const Kilopascals ours = vapour_pressure_deficit(row.air, row.humidity());
    CAPTURE(row.air.degrees);
    CAPTURE(row.humidity().percent);
    CHECK(std::abs(ours.kilopascals - row.deficit.kilopascals) <
          0.0012 * row.saturation.kilopascals);
  }
}

// Both by the ideal gas; the gas constants of the two differ by 0.02 %.
TEST_CASE("masses of vapour are those of the reference library") {
  const auto folder = oracles();
  if (!folder) return;
  for (const MoistAir& row : moist_air(*folder)) {
    const auto ours = absolute_humidity(row.air, row.humidity());
    CAPTURE(row.air.degrees);
    CAPTURE(row.humidity().percent);
    CHECK(off_by(ours.grams, row.absolute.grams) < 0.0002);
  }
}

// suncalc 2 has the same sun (Meeus, ch. 25) and comes to the events another way: by
// sidereal time, and by two of Newton's steps.
TEST_CASE("noon, rise, set and twilights are those of the reference library") {
  const auto folder = oracles();
  if (!folder) return;
  const auto rows = read_table(*folder / "sun.csv");
  // 74 days, 15 latitudes, 3 longitudes.
  CHECK(rows.size() == 3330);
  for (const auto& row : rows) {
    const auto day = static_cast<std::int64_t>(number_from(row.at("solar_day")));
    const Position position{number_from(row.at("latitude")),
                            number_from(row.at("longitude"))};
    const double noon = number_from(row.at("noon"));
    CAPTURE(day);
    CAPTURE(position.latitude);
    CAPTURE(position.longitude);
    for (const Event& event : kEvents) {
      const SunDay ours = sun_day(day, position, event.height);
      INFO(std::string{event.rise});
      CHECK(std::abs(ours.noon.time_since_epoch().count() - noon) < 4.0);
      check_event(ours.rise, row.at(event.rise), noon, position);
      check_event(ours.set, row.at(event.set), noon, position);
    }
  }
}

}  // namespace rimeward
