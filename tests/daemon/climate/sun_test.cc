#include "daemon/climate/sun.h"

#include <array>
#include <cmath>
#include <string>

#include <doctest/doctest.h>

#include "tests/daemon/climate/outlook_replay.h"
#include "tests/support/shared_folder.h"

namespace rimeward {
namespace {

struct Printed {
  const char* place;
  Position position;
  const char* date;
  const char* rise;  // UTC; "+" before an hour of the next date
  const char* set;
};

constexpr Position kNorth60{60.0, 0.0};
constexpr Position kNorth80{80.0, 0.0};
constexpr Position kSanFrancisco{37.7667, -122.4333};
constexpr Position kToronto{43.6667, -79.4167};

// Tables "Rise and Set for the Sun" of the US Naval Observatory, Astronomical
// Applications Department: 2019 for N60 and N80 (UT), 2012 for W122 26 N37 46 (PST) and
// 2001 for W079 25 N43 40 (zone 4 h W). London and New York: to the minute, from memory.
constexpr std::array kTable{
    Printed{"60 N", kNorth60, "2019-02-10", "07:52", "16:37"},
    Printed{"60 N", kNorth60, "2019-03-20", "06:03", "18:14"},
    Printed{"60 N", kNorth60, "2019-06-21", "02:36", "21:28"},
    Printed{"60 N", kNorth60, "2019-09-23", "05:46", "17:58"},
    Printed{"60 N", kNorth60, "2019-12-21", "09:02", "14:54"},
    Printed{"San Francisco", kSanFrancisco, "2012-01-10", "15:25", "+01:09"},
    Printed{"San Francisco", kSanFrancisco, "2012-04-10", "13:41", "+02:41"},
    Printed{"San Francisco", kSanFrancisco, "2012-07-10", "12:57", "+03:33"},
    Printed{"San Francisco", kSanFrancisco, "2012-10-10", "14:14", "+01:39"},
    Printed{"Toronto", kToronto, "2001-04-01", "10:59", "23:45"},
    Printed{"Toronto", kToronto, "2001-04-15", "10:35", "+00:01"},
    Printed{"Toronto", kToronto, "2001-04-30", "10:11", "+00:19"},
    Printed{"80 N", kNorth80, "2019-02-21", "11:20", "13:10"},
    Printed{"80 N", kNorth80, "2019-03-20", "05:55", "18:25"},
    Printed{"80 N", kNorth80, "2019-04-12", "01:25", "23:02"},
    Printed{"80 N", kNorth80, "2019-09-01", "01:29", "22:13"},
    Printed{"80 N", kNorth80, "2019-10-21", "11:03", "12:23"},
    Printed{"London", {51.5074, -0.1278}, "2024-06-21", "03:43", "20:21"},
    Printed{"London", {51.5074, -0.1278}, "2024-12-21", "08:04", "15:53"},
    Printed{"New York", {40.7128, -74.006}, "2024-12-21", "12:16", "21:32"},
};

// Days when the tables of the Naval Observatory have the sun up or down all day.
constexpr std::array kNoEvents{"2019-02-20", "2019-04-14", "2019-06-21",
                               "2019-08-29", "2019-10-22", "2019-12-21"};

std::int64_t day_of(const std::string& date) {
  return instant_from(date + "T00:00:00Z").time_since_epoch() / std::chrono::hours{24};
}

Instant printed_time(const std::string& date, std::string time) {
  const bool next_date = time.front() == '+';
  if (next_date) time.erase(0, 1);
  return instant_from(date + "T" + time + ":00Z") + std::chrono::days{next_date ? 1 : 0};
}

double minutes_apart(SunTime a, Instant b) {
  return std::abs((a - b).count()) / 60.0;
}

SunDay light_of(const char* date, Position position) {
  return sun_day(day_of(date), position, SunHeight::kHorizon);
}

double hours_above(const SunDay& day) {
  return time_above(day).count() / 3600.0;
}

}  // namespace

TEST_CASE("sunrise and sunset are those of the Naval Observatory's tables") {
  for (const Printed& row : kTable) {
    CAPTURE(row.place);
    CAPTURE(row.date);
    const auto events = sun_events(day_of(row.date), row.position);
    REQUIRE(events);
    // Half a minute is the tables' rounding; the rest is the short form's own error,
    // which grows as the sun meets the horizon at a flatter angle.
    const double tolerance = row.position.latitude > 70.0 ? 1.5 : 1.0;
    CHECK(minutes_apart(events->sunrise, printed_time(row.date, row.rise)) < tolerance);
    CHECK(minutes_apart(events->sunset, printed_time(row.date, row.set)) < tolerance);
    CHECK(events->sunrise < events->noon);
    CHECK(events->noon < events->sunset);
  }
}

TEST_CASE("a day of the midnight sun or the polar night has no events") {
  for (const char* date : kNoEvents) {
    CAPTURE(date);
    CHECK_FALSE(sun_events(day_of(date), kNorth80));
  }
}

TEST_CASE("the course of a day has the tables' sunrise and sunset too") {
  for (const Printed& row : kTable) {
    CAPTURE(row.place);
    CAPTURE(row.date);
    const SunDay day = light_of(row.date, row.position);
    REQUIRE(day.rise);
    REQUIRE(day.set);
    // As above.
    const double tolerance = row.position.latitude > 70.0 ? 1.5 : 1.0;
    CHECK(minutes_apart(*day.rise, printed_time(row.date, row.rise)) < tolerance);
    CHECK(minutes_apart(*day.set, printed_time(row.date, row.set)) < tolerance);
  }
}

// The Naval Observatory's table for N80, 2019: "no set" on 13 April, "no rise" on 30
// August.
TEST_CASE("at the turn of the midnight sun a day rises or sets without the other") {
  const SunDay spring = light_of("2019-04-13", kNorth80);
  REQUIRE(spring.rise);
  CHECK(minutes_apart(*spring.rise, instant_from("2019-04-13T00:57:00Z")) < 1.5);
  CHECK_FALSE(spring.set);
  CHECK_FALSE(above_all_day(spring));
  // From 00:57 to the sun's midnight, at 00:00 or a minute beside it.
  CHECK(hours_above(spring) == doctest::Approx(23.05).epsilon(0.002));
  const SunDay autumn = light_of("2019-08-30", kNorth80);
  CHECK_FALSE(autumn.rise);
  REQUIRE(autumn.set);
  CHECK(minutes_apart(*autumn.set, instant_from("2019-08-30T23:01:00Z")) < 1.5);
  CHECK(hours_above(autumn) == doctest::Approx(23.02).epsilon(0.002));
}

TEST_CASE("the midnight sun is told from the polar night") {
  for (const char* date : {"2019-04-14", "2019-06-21", "2019-08-29"}) {
    CAPTURE(date);
    const SunDay day = light_of(date, kNorth80);
    CHECK(above_all_day(day));
    CHECK_FALSE(below_all_day(day));
    CHECK(time_above(day) == std::chrono::hours{24});
  }
  for (const char* date : {"2019-02-20", "2019-10-22", "2019-12-21"}) {
    CAPTURE(date);
    const SunDay day = light_of(date, kNorth80);
    CHECK(below_all_day(day));
    CHECK_FALSE(above_all_day(day));
    CHECK_FALSE(day.rise);
    CHECK_FALSE(day.set);
    CHECK(time_above(day) == std::chrono::hours{0});
  }
}

TEST_CASE("70 degrees north has light all day at midsummer and none at midwinter") {
  const Position north70{70.0, 25.0};
  CHECK(above_all_day(light_of("2024-06-21", north70)));
  CHECK(below_all_day(light_of("2024-12-21", north70)));
  // Some twilight about noon even then.
  const SunDay civil = sun_day(day_of("2024-12-21"), north70, SunHeight::kCivil);
  REQUIRE(civil.rise);
  REQUIRE(civil.set);
  CHECK(hours_above(civil) > 3.0);
  CHECK(hours_above(civil) < 6.0);
}

TEST_CASE("every time of the Naval Observatory's tables comes out") {
  const auto shared = shared_folder();
  if (!shared) {
    MESSAGE("skipped: no folder of check values, see tests/support/shared_folder.h");
    return;
  }
  const auto rows = read_table(*shared / "reference" / "02_sun_usno_rise_set.csv");
  CHECK(rows.size() == 922);
  for (const auto& row : rows) {
    CAPTURE(row.at("place"));
    CAPTURE(row.at("date"));
    CAPTURE(row.at("event"));
    const std::string& date = row.at("date");
    const Position position{number_from(row.at("lat_deg")),
                            number_from(row.at("lon_deg_east"))};
    const SunDay day = light_of(date.c_str(), position);
    const auto& event = row.at("event") == "rise" ? day.rise : day.set;
    const std::string& printed = row.at("expected_local");
    if (printed.find(':') == std::string::npos) {
      CHECK_FALSE(event);
      CHECK(above_all_day(day) == (printed == "SUN_UP_ALL_DAY"));
      CHECK(below_all_day(day) == (printed == "SUN_DOWN_ALL_DAY"));
      continue;
    }
    REQUIRE(event);
    const auto ahead = std::chrono::hours{std::stoi(row.at("utc_offset_h"))};
    const Instant published = printed_time(date, printed) - ahead;
    // As above.
    CHECK(minutes_apart(*event, published) < (position.latitude > 70.0 ? 1.5 : 1.0));
  }
}

// A table's "sunset less sunrise" is rounded twice, to a minute each.
TEST_CASE("the length of a day is that from sunrise to sunset") {
  CHECK(hours_above(light_of("2019-06-21", kNorth60)) * 60 ==
        doctest::Approx(18 * 60 + 52).epsilon(0.0015));
  CHECK(hours_above(light_of("2019-12-21", kNorth60)) * 60 ==
        doctest::Approx(5 * 60 + 52).epsilon(0.005));
  CHECK(hours_above(light_of("2012-07-10", kSanFrancisco)) * 60 ==
        doctest::Approx(14 * 60 + 36).epsilon(0.002));
}

// Where the sun passes 12 h UTC at noon the sundial is right: at 180 degrees of longitude
// noon is the equation of time before midnight UTC. Meeus, Astronomical Algorithms (2nd
// ed. 1998), example 28.b (from memory), to 0.01 minutes; a surveyors' ephemeris, January
// 1999 at 0 h (seen), to the 4 seconds by which Meeus's short form is off there.
TEST_CASE("noon differs from twelve by the almanacs' equation of time") {
  struct Equation {
    const char* date;
    double minutes;
    double tolerance;
  };
  for (const Equation& row :
       {Equation{"1992-10-13", 13.71, 0.01}, Equation{"1999-01-01", -3.1535, 0.06},
        Equation{"1999-01-02", -3.6245, 0.06}, Equation{"1999-01-05", -5.0028, 0.06},
        Equation{"1999-01-10", -7.1598, 0.06}, Equation{"1999-01-15", -9.0962, 0.06},
        Equation{"1999-01-20", -10.763, 0.06}}) {
    CAPTURE(row.date);
    const SunDay day = light_of(row.date, {0.0, 180.0});
    const Instant midnight = instant_from(std::string{row.date} + "T00:00:00Z");
    const double ahead = -(day.noon - midnight).count() / 60.0;
    CHECK(std::abs(ahead - row.minutes) < row.tolerance);
  }
}

TEST_CASE("below 60 degrees the course of a day has the events of sun_events") {
  for (std::int64_t day = day_of("2024-01-01"); day < day_of("2025-01-01"); day += 3) {
    for (double latitude = -60.0; latitude <= 60.0; latitude += 7.5) {
      const Position position{latitude, 9.52};
      const auto events = sun_events(day, position);
      const SunDay course = sun_day(day, position, SunHeight::kHorizon);
      CAPTURE(day);
      CAPTURE(latitude);
      REQUIRE(events);
      REQUIRE(course.rise);
      REQUIRE(course.set);
      CHECK(course.noon == events->noon);
      CHECK(std::abs((*course.rise - events->sunrise).count()) < 0.001);
      CHECK(std::abs((*course.set - events->sunset).count()) < 0.001);
    }
  }
}

TEST_CASE("each twilight begins before the next lighter one and ends after it") {
  constexpr std::array kDarkerAndDarker{SunHeight::kHorizon, SunHeight::kCivil,
                                        SunHeight::kNautical, SunHeight::kAstronomical};
  for (std::int64_t day = day_of("2024-01-01"); day < day_of("2025-01-01"); day += 5) {
    for (double latitude = -85.0; latitude <= 85.0; latitude += 5.0) {
      CAPTURE(day);
      CAPTURE(latitude);
      for (std::size_t i = 1; i < kDarkerAndDarker.size(); ++i) {
        const SunDay light = sun_day(day, {latitude, 9.52}, kDarkerAndDarker[i - 1]);
        const SunDay dark = sun_day(day, {latitude, 9.52}, kDarkerAndDarker[i]);
        if (light.rise && dark.rise) CHECK(*dark.rise < *light.rise);
        if (light.set && dark.set) CHECK(*dark.set > *light.set);
        // Where the sun does not go down to the lighter one, it does not to the darker.
        if (light.above_at_noon && !light.rise) CHECK_FALSE(dark.rise);
        CHECK(time_above(dark) >= time_above(light));
        CHECK(time_above(dark) <= std::chrono::hours{24});
      }
    }
  }
}

// At midsummer midnight the sun is as far down as 90 degrees less the latitude less its
// declination, 23.437: civil twilight, 6 degrees, lasts all night from 60.563 degrees on.
TEST_CASE("at midsummer each twilight lasts all night from its own latitude on") {
  struct Limit {
    SunHeight height;
    double degrees;
  };
  for (const Limit& limit :
       {Limit{SunHeight::kCivil, 60.563}, Limit{SunHeight::kNautical, 54.563},
        Limit{SunHeight::kAstronomical, 48.563}}) {
    CAPTURE(limit.degrees);
    const auto day_at = [&limit](double latitude) {
      return sun_day(day_of("2024-06-20"), {latitude, 9.52}, limit.height);
    };
    CHECK(day_at(limit.degrees - 0.01).set);
    CHECK(above_all_day(day_at(limit.degrees + 0.01)));
  }
}

TEST_CASE("a pole is light or dark all day but for the day on which that changes") {
  for (std::int64_t day = day_of("2024-01-01"); day < day_of("2025-01-01"); ++day) {
    CAPTURE(day);
    const SunDay north = sun_day(day, {90.0, 0.0}, SunHeight::kHorizon);
    // With refraction the north pole's day is from 18 March to 25 September.
    if (day > day_of("2024-03-20") && day < day_of("2024-09-22")) {
      CHECK(above_all_day(north));
    } else if (day < day_of("2024-03-17") || day > day_of("2024-09-26")) {
      CHECK(below_all_day(north));
    }
  }
}

TEST_CASE("the poles have no events at any time of the year") {
  for (std::int64_t day = day_of("2024-01-01"); day < day_of("2025-01-01"); ++day) {
    // About the equinoxes the sun crosses the horizon there, once.
    CAPTURE(day);
    if (sun_events(day, {90.0, 0.0})) FAIL("an event at the north pole");
    if (sun_events(day, {-90.0, 0.0})) FAIL("an event at the south pole");
  }
}

TEST_CASE("the solar day turns at the longitude's own midnight") {
  const auto day = day_of("2024-03-10");
  // At 90 degrees west the sun is six hours behind Greenwich.
  const Position west{40.0, -90.0};
  CHECK(solar_day(instant_from("2024-03-10T05:59:59Z"), west) == day - 1);
  CHECK(solar_day(instant_from("2024-03-10T06:00:00Z"), west) == day);
  const Position east{40.0, 90.0};
  CHECK(solar_day(instant_from("2024-03-09T17:59:59Z"), east) == day - 1);
  CHECK(solar_day(instant_from("2024-03-09T18:00:00Z"), east) == day);
  // Before 1970 too.
  CHECK(solar_day(instant_from("1969-12-31T12:00:00Z"), {40.0, 0.0}) == -1);
}

}  // namespace rimeward
