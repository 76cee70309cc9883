#include "daemon/base/zone.h"

#include <filesystem>
#include <fstream>
#include <string>

#include <doctest/doctest.h>
#include <fmt/format.h>

#include "sensors/iso_time.h"
#include "tests/support/scratch_folder.h"
#include "tests/support/variable.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;
using std::chrono::sys_days;

Instant utc(std::string_view text) {
  return parse_instant(text).value();
}

Zone zone(std::string_view name) {
  return Zone::named(name).value();
}

TEST_CASE("a zone shows local date, time of day and weekday") {
  struct Row {
    std::string_view zone;
    std::string_view at;
    std::string_view date;
    std::string_view weekday;
    std::string_view time;
  };
  // Offsets of the IANA zone database (tzdata): Berlin +1, summer +2; New York -5, -4;
  // Kolkata +5:30; Chatham +12:45, summer +13:45; Kiritimati +14. Weekdays: 12 April
  // 2026 is a Sunday by ISO 8601's own rule that 2000-01-01 was a Saturday.
  const Row rows[] = {
      {"Europe/Berlin", "2026-04-12T18:03:20Z", "2026-04-12", "Sun", "20:03"},
      {"Europe/Berlin", "2026-01-31T23:30:00Z", "2026-02-01", "Sun", "00:30"},
      {"America/New_York", "2026-01-01T03:15:59Z", "2025-12-31", "Wed", "22:15"},
      {"Asia/Kolkata", "2026-04-12T18:29:59Z", "2026-04-12", "Sun", "23:59"},
      {"Asia/Kolkata", "2026-04-12T18:30:00Z", "2026-04-13", "Mon", "00:00"},
      {"Pacific/Chatham", "2026-01-10T12:00:00Z", "2026-01-11", "Sun", "01:45"},
      {"Pacific/Kiritimati", "2026-04-12T10:00:00Z", "2026-04-13", "Mon", "00:00"},
      {"UTC", "1969-12-31T23:59:59Z", "1969-12-31", "Wed", "23:59"},
  };
  for (const Row& row : rows) {
    CAPTURE(row.zone);
    CAPTURE(row.at);
    const Zone local = zone(row.zone);
    CHECK(local.date_text(utc(row.at)) == row.date);
    CHECK(local.weekday_text(utc(row.at)) == row.weekday);
    CHECK(local.time_text(utc(row.at)) == row.time);
  }
}

TEST_CASE("a wall-clock time names one instant, also where clocks change") {
  struct Row {
    std::string_view zone;
    std::chrono::year_month_day date;
    std::chrono::minutes since_midnight;
    std::string_view at;
  };
  using namespace std::chrono;
  // Germany changes at 01:00 UTC on the last Sundays of March and October (directive
  // 2000/84/EC); the USA at 02:00 local time on the second Sunday of March and the first
  // of November (Energy Policy Act of 2005).
  const Row rows[] = {
      {"Europe/Berlin", 2026y / 4 / 12, 20h + 3min, "2026-04-12T18:03:00Z"},
      {"Europe/Berlin", 2026y / 3 / 29, 1h + 59min, "2026-03-29T00:59:00Z"},
      // 02:00 to 03:00 is skipped: each of its times is the end of the gap.
      {"Europe/Berlin", 2026y / 3 / 29, 2h, "2026-03-29T01:00:00Z"},
      {"Europe/Berlin", 2026y / 3 / 29, 2h + 30min, "2026-03-29T01:00:00Z"},
      {"Europe/Berlin", 2026y / 3 / 29, 3h, "2026-03-29T01:00:00Z"},
      // 02:00 to 03:00 comes twice: the first counts.
      {"Europe/Berlin", 2026y / 10 / 25, 2h, "2026-10-25T00:00:00Z"},
      {"Europe/Berlin", 2026y / 10 / 25, 2h + 30min, "2026-10-25T00:30:00Z"},
      {"Europe/Berlin", 2026y / 10 / 25, 3h, "2026-10-25T02:00:00Z"},
      {"America/New_York", 2026y / 3 / 8, 2h + 30min, "2026-03-08T07:00:00Z"},
      {"America/New_York", 2026y / 11 / 1, 1h + 30min, "2026-11-01T05:30:00Z"},
      {"Asia/Kolkata", 2026y / 4 / 12, 0min, "2026-04-11T18:30:00Z"},
      {"Asia/Kolkata", 2026y / 4 / 12, 26h, "2026-04-12T20:30:00Z"},
  };
  for (const Row& row : rows) {
    CAPTURE(row.zone);
    CAPTURE(row.at);
    const Instant at = zone(row.zone).at(row.date, row.since_midnight);
    CHECK(format_utc(at) == row.at);
  }
}

TEST_CASE("a climatological day is 23 or 25 hours long when the clocks change in it") {
  using namespace std::chrono;
  struct Row {
    std::string_view zone;
    year_month_day day;
    hours length;
  };
  const Row rows[] = {
      {"Europe/Berlin", 2026y / 3 / 27, 24h},
      {"Europe/Berlin", 2026y / 3 / 28, 23h},
      {"Europe/Berlin", 2026y / 3 / 29, 24h},
      {"Europe/Berlin", 2026y / 10 / 24, 25h},
      {"Europe/Berlin", 2026y / 10 / 25, 24h},
      {"America/New_York", 2026y / 3 / 7, 23h},
      {"America/New_York", 2026y / 10 / 31, 25h},
      {"Asia/Kolkata", 2026y / 3 / 28, 24h},
  };
  for (const Row& row : rows) {
    CAPTURE(row.zone);
    CAPTURE(date_text(row.day));
    const DayGrid grid(zone(row.zone), 9h);
    CHECK(grid.ends(row.day) - grid.begins(row.day) == row.length);
    CHECK(grid.zone().time_text(grid.begins(row.day)) == "09:00");
  }
}

TEST_CASE("every instant lies in the day that day_of names, through a whole year") {
  using namespace std::chrono;
  for (const std::string_view name :
       {"Europe/Berlin", "America/New_York", "Asia/Kolkata"}) {
    for (const minutes day_starts : {0min, 150min, 540min, 1439min}) {
      const DayGrid grid(zone(name), day_starts);
      CAPTURE(name);
      CAPTURE(day_starts.count());
      for (Instant at = utc("2026-01-01T00:00:00Z"); at < utc("2027-01-02T00:00:00Z");
           at += 17min) {
        const year_month_day day = grid.day_of(at);
        REQUIRE(grid.begins(day) <= at);
        REQUIRE(at < grid.ends(day));
      }
    }
  }
}

TEST_CASE("a day begins with the instant that day_starts names, not one before") {
  using namespace std::chrono;
  const DayGrid grid(zone("Europe/Berlin"), 9h);
  CHECK(grid.day_of(utc("2026-04-12T06:59:59Z")) == 2026y / 4 / 11);
  CHECK(grid.day_of(utc("2026-04-12T07:00:00Z")) == 2026y / 4 / 12);
  CHECK(grid.begins(2026y / 4 / 12) == utc("2026-04-12T07:00:00Z"));
  CHECK(grid.ends(2026y / 4 / 12) == utc("2026-04-13T07:00:00Z"));
}

TEST_CASE("a date that a zone left out is a day without length") {
  using namespace std::chrono;
  // Samoa went from 29 to 31 December 2011 to change sides of the date line (tzdata,
  // Pacific/Apia).
  const DayGrid grid(zone("Pacific/Apia"), 0min);
  CHECK(grid.begins(2011y / 12 / 30) == grid.ends(2011y / 12 / 30));
  CHECK(grid.day_of(utc("2011-12-30T09:59:59Z")) == 2011y / 12 / 29);
  CHECK(grid.day_of(utc("2011-12-30T10:00:00Z")) == 2011y / 12 / 31);
}

TEST_CASE("the clocks still change in years that no list has") {
  using namespace std::chrono;
  // Directive 2000/84/EC has no end: the last Sunday of March 2080 is the 31st.
  CHECK(zone("Europe/Berlin").at(2080y / 3 / 30, 12h) == utc("2080-03-30T11:00:00Z"));
  CHECK(zone("Europe/Berlin").at(2080y / 3 / 31, 12h) == utc("2080-03-31T10:00:00Z"));
}

TEST_CASE("what lies beside the zones and what the library adds is none") {
  for (const std::string_view name :
       {"localtime", "posixrules", "right/Europe/Berlin", "tzdata.zi", "Europe",
        "Fixed/UTC+01:00:00", "/usr/share/zoneinfo/Europe/Berlin"}) {
    CAPTURE(name);
    CHECK_FALSE(Zone::named(name));
  }
  using namespace std::string_view_literals;
  CHECK_FALSE(Zone::named("Europe/Berlin\0x"sv));
}

TEST_CASE("without the zones' files, or where one is damaged, that is said") {
  const ScratchFolder folder;
  const Variable zones("TZDIR", folder.path().string());
  const auto message = [] { return Zone::named("Europe/Helsinki").error().message; };
  const std::string expected = fmt::format(
      "time zone \"Europe/Helsinki\" cannot be read from {} (is the package tzdata "
      "installed?)",
      folder.path().string());
  CHECK(message() == expected);
  std::filesystem::create_directories(folder / "Europe");
  std::ofstream(folder / "Europe/Helsinki") << "TZif? no";
  CHECK(message() == expected);
}

TEST_CASE("an unknown zone is refused with the one that was meant") {
  const auto message = [](std::string_view name) {
    return Zone::named(name).error().message;
  };
  CHECK(message("Europe/Belin") ==
        "unknown time zone \"Europe/Belin\"; did you mean \"Europe/Berlin\"?");
  CHECK(message("Berlin") ==
        "unknown time zone \"Berlin\"; did you mean \"Europe/Berlin\"?");
  CHECK(message("") == "unknown time zone \"\"");
  CHECK(message("../../etc/passwd") == "unknown time zone \"../../etc/passwd\"");
  CHECK(message("x\nyyyyyyyyyyyyyyyyyyyy") ==
        "unknown time zone \"x\\nyyyyyyyyyyyyyyyyyyyy\"");
}

}  // namespace
}  // namespace rimeward
