#include "daemon/climate/sun.h"

#include <array>
#include <cmath>
#include <string>

#include <doctest/doctest.h>

#include "tests/daemon/climate/outlook_replay.h"

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
