// `rimeward week` over years: notes, sensors that were replaced, and past years beside.

#include <chrono>
#include <string>

#include <doctest/doctest.h>
#include <nlohmann/json.hpp>

#include "tests/tools/season_garden.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;
using std::chrono::days;
using std::chrono::sys_days;
using std::chrono::year;
using testing::SeasonGarden;

// Today at the garden: 12 April 2026, a Sunday.
constexpr sys_days kToday{year{2026} / 4 / 12};

// In the glasshouse, hour by hour since 1 April 2025: by day 10 °C above the night, and
// this April's nights 2 °C, last year's 5 °C, from the 1st on a tenth warmer each day.
double glass_air(Instant at) {
  const std::chrono::year_month_day date{std::chrono::floor<days>(at)};
  const double night = date.year() == year{2026} ? 2.0 : 5.0;
  const auto hour =
      std::chrono::floor<std::chrono::hours>(at - std::chrono::floor<days>(at)).count();
  return night + 0.1 * static_cast<unsigned>(date.day()) + (hour == 13 ? 10.0 : 0.0);
}

class GlassGarden : public SeasonGarden {
 public:
  GlassGarden() { air(kGlass, sys_days{year{2025} / 4 / 1}, glass_air); }

  std::string text(const std::string& command) { return run(command).text; }
  nlohmann::json json(const std::string& command) {
    return nlohmann::json::parse(run(command + " --json").text);
  }
};

TEST_CASE("a past year stands in columns beside where the screen has room") {
  GlassGarden garden;
  garden.width(120);
  CHECK(garden.text("week yesterday --years 1 --place glasshouse") ==
        R"(Hochfeld school garden, Sun 12 Apr 18:40

date        place       low °C  at         high °C  at     2025 low  2025 high
Sat 11 Apr  Glasshouse     3.0  09:30 Fri     13.1  15:30       6.0       16.1

Lows were 3.0 °C lower than on these days of 2025 (1 of 1 days known), highs were 3.0 °C lower (1 of 1 days known).
)");
}

TEST_CASE("a past year stands on a line beneath where the screen is narrow") {
  for (const std::size_t width : {60U, 80U}) {
    CAPTURE(width);
    GlassGarden garden;
    garden.width(width);
    const std::string text = garden.text("week yesterday --years 1");
    CHECK(text.find("  2025") != std::string::npos);
    CHECK(text.find("2025 low") == std::string::npos);
    CHECK(text.find("North frame: nothing to compare with 2025 is known.") !=
          std::string::npos);
    CHECK(garden.text("week yesterday --years 2")
              .find("\nNothing to compare with 2024 is "
                    "known.\n") != std::string::npos);
  }
}

TEST_CASE("29 February has no day beside it in a common year") {
  GlassGarden garden;
  const nlohmann::json day =
      garden.json("week 2024-02-29 --years 4 --place glasshouse")["days"][0];
  CHECK(day["years"][0]["date"].is_null());
  CHECK(day["years"][0]["low"].is_null());
  CHECK(day["years"][3]["date"] == "2020-02-29");
}

TEST_CASE("years are compared by the days of which both are known whole") {
  GlassGarden garden;
  const nlohmann::json all =
      garden.json("week 2 Apr to 12 Apr --years 1 --place glasshouse");
  const nlohmann::json& beside = all["years"][0];
  CHECK(beside["years_before"] == 1);
  CHECK(beside["days"] == 11);
  CHECK(beside["lows"]["days_known"] == 11);
  CHECK(beside["lows"]["mean_celsius"] == doctest::Approx(-3.0));
  // Today's high is not over yet.
  CHECK(beside["highs"]["days_known"] == 10);
  CHECK(all["days"][0]["years"][0]["high"]["temperature_celsius"] ==
        doctest::Approx(15.2));
}

TEST_CASE("days of two years are named by how long before they are") {
  GlassGarden garden;
  garden.width(160);
  const std::string text =
      garden.text("week 30 Dec to 2 Jan --years 1 --place glasshouse");
  CHECK(text.find("a year before low") != std::string::npos);
  CHECK(text.find("Nothing to compare with a year before is known.") !=
        std::string::npos);
}

TEST_CASE("what was noted is marked, and stands without its time where it has none") {
  GlassGarden garden;
  garden.note({.date = kToday - days{400},
               .place = "yard",
               .low = to_milli(-3.5),
               .low_at = {},
               .high = to_milli(8.0),
               .high_at = sys_days{kToday - days{400}} + 13h});
  CHECK(garden.text("week 2025-03-08 --place yard") ==
        R"(Hochfeld school garden, Sun 12 Apr 18:40

date            place  low °C  at  high °C  at     note
Sat 8 Mar 2025  Yard     -3.5  -       8.0  14:00  low noted, high noted
)");
  const nlohmann::json day = garden.json("week 2025-03-08 --place yard")["days"][0];
  CHECK(day["low"]["is_noted"] == true);
  CHECK(day["low"]["at"].is_null());
  CHECK(day["low"]["hours_covered"] == 0);
  CHECK(garden.text("week 2025-03-08 --place yard --csv") ==
        "date,place,low,low_at,high,high_at,low_hours,high_hours\n"
        "2025-03-08,yard,-3.500,,8.000,2025-03-08T13:00:00Z,0,0\n");
}

TEST_CASE("past years follow in the CSV") {
  GlassGarden garden;
  CHECK(garden.text("week yesterday --years 2 --place glasshouse --csv") ==
        "date,place,low,low_at,high,high_at,low_hours,high_hours,low_1_year_before,"
        "high_1_year_before,low_2_years_before,high_2_years_before\n"
        "2026-04-11,glasshouse,3.000,2026-04-10T07:30:00Z,13.100,2026-04-11T13:30:00Z,24,"
        "24,6.000,16.100,,\n");
}

TEST_CASE("days of which nothing is known are said to be so, not shown as dashes") {
  GlassGarden garden;
  CHECK(garden.text("week April 2019") ==
        "Hochfeld school garden, Sun 12 Apr 18:40\n\n"
        "No high or low is known of 1 to 30 Apr 2019.\n");
}

TEST_CASE("days in words and days by options do not go together") {
  GlassGarden garden;
  const Reply reply = garden.run("week last week --days 3");
  CHECK(reply.status == 2);
  CHECK(reply.trouble == "\"last week\" with --days: leave one of them out");
  CHECK(garden.run("week lst week").status == 2);
  CHECK(garden.run("week --years 0").trouble == "--years: expected 1 to 100, got \"0\"");
  CHECK(garden.run("week since 1900").trouble.starts_with("1900-01-01 to 2026-04-12"));
}

TEST_CASE("the first and last date are said in words, too") {
  GlassGarden garden;
  const nlohmann::json week = nlohmann::json::parse(
      garden.run_words({"week", "--from", "8 Apr", "--to", "yesterday", "--json"}).text);
  CHECK(week["from"] == "2026-04-08");
  CHECK(week["to"] == "2026-04-11");
}

}  // namespace
}  // namespace rimeward
