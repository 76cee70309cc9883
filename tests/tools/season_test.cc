#include <array>
#include <map>
#include <string>

#include <doctest/doctest.h>

#include "tests/support/hochfeld.h"
#include "tools/cli/season_answer.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;
using std::chrono::days;
using std::chrono::hours;
using std::chrono::sys_days;
using testing::at;

constexpr Milli kMild = 6'000;  // a degree above the hardy base, chilly, no frost

// Hourly air temperatures of the yard: mild but for what is said otherwise.
struct Weather {
  Instant from;
  Instant to;  // without it
  std::map<Instant, Milli> otherwise{};
  std::optional<std::pair<Instant, Instant>> silent{};  // from, until without it
};

void tell(Changes& changes, SeriesId series, const Weather& weather) {
  for (Instant hour = weather.from; hour < weather.to; hour += hours{1}) {
    if (weather.silent && hour >= weather.silent->first &&
        hour < weather.silent->second) {
      continue;
    }
    const auto found = weather.otherwise.find(hour);
    changes.readings.push_back(
        {hour, series, found == weather.otherwise.end() ? kMild : found->second});
  }
}

// A garden whose store holds the weather, and what the verb sees of it.
class Yard {
 public:
  explicit Yard(Instant now, Zone zone = testing::berlin())
      : zone_(std::move(zone)), now_(now) {
    garden_.places = {testing::yard()};
    garden_.sensors = {testing::sensor_of("yard")};
    changes_.now = now;
    changes_.series.push_back({1, "yard-probe", "yard", Channel::kAirTemperature});
    store_.set_days(DayGrid(zone_, garden_.day_starts));
  }

  Garden& garden() { return garden_; }
  void tell(const Weather& weather) { rimeward::tell(changes_, 1, weather); }
  // By a sensor that the settings no longer have.
  void tell_by_gone(const Weather& weather) {
    changes_.series.push_back({2, "gone-probe", "yard", Channel::kAirTemperature});
    rimeward::tell(changes_, 2, weather);
  }

  void note(NotedDayRow row) { changes_.noted_days.push_back(std::move(row)); }

  SeasonAnswer answer(std::optional<std::chrono::year> only = {}) {
    return answer_season(context(), {&garden_.places.front()}, only);
  }
  std::string shown(std::size_t width = 80) {
    around_.screen.width = width;
    return find_verb("season")->details.answer(context(), {}).text;
  }
  Reply asked(const std::string& when, Format format = Format::kText) {
    around_.format = format;
    Arguments arguments;
    arguments.set("WHEN", when);
    return find_verb("season")->details.answer(context(), arguments);
  }

 private:
  Context context() {
    store_.commit(changes_);
    changes_.readings.clear();
    changes_.series.clear();
    changes_.noted_days.clear();
    return {.around = around_,
            .garden = garden_,
            .zone = zone_,
            .store = store_,
            .now = now_,
            .clock_from_readings = false};
  }

  Garden garden_ = testing::hochfeld();
  Zone zone_;
  Store store_ = Store::in_memory();
  Surroundings around_;
  Changes changes_;
  Instant now_;
};

// From midnight of 27 February in the garden to the noon of 20 April.
Weather spring() {
  return {.from = at("2026-02-26T23:00:00Z"),
          .to = at("2026-04-20T12:00:00Z"),
          .otherwise = {{at("2026-03-29T03:00:00Z"), -1'000},
                        {at("2026-04-07T04:00:00Z"), -500},
                        {at("2026-04-10T04:00:00Z"), 0},
                        {at("2026-04-12T13:00:00Z"), 21'000}}};
}

PlaceSeason only_season(Yard& yard) {
  const SeasonAnswer answer = yard.answer();
  REQUIRE(answer.rows.size() == 1);
  return answer.rows.front();
}

}  // namespace

TEST_CASE("frosts and extremes of a spring are those of its nights and days") {
  Yard yard(at("2026-04-20T12:00:00Z"));
  yard.tell(spring());
  const PlaceSeason row = only_season(yard);
  CHECK(row.year == 2026y);
  CHECK(row.is_under_way);
  CHECK(row.sums.frost_nights == 2);
  CHECK(row.sums.frost_hours == 2);
  CHECK(row.last_of_spring == FrostDate{2026y / 4 / 7, true});
  CHECK_FALSE(row.first_of_autumn);
  CHECK(row.autumn.known == 0);
  CHECK(row.coldest == DatedAir{{-1.0}, 2026y / 3 / 29});
  CHECK(row.warmest == DatedAir{{21.0}, 2026y / 4 / 12});
  CHECK_FALSE(row.by_today);
}

// 52 days and 13 hours, over the change of clocks on 29 March, in UTC hours of which
// three give nothing and one 16 degree hours above 5, 11 above 10.
TEST_CASE("degree days add up hour by hour over a change of clocks") {
  Yard yard(at("2026-04-20T12:00:00Z"));
  yard.tell(spring());
  const PlaceSeason row = only_season(yard);
  CHECK(row.sums.hardy.degree_days ==
        doctest::Approx((52 * 24 + 13 - 4 + 16) / 24.0).epsilon(1e-12));
  CHECK(row.sums.tender.degree_days == doctest::Approx(11 / 24.0).epsilon(1e-12));
}

TEST_CASE("chill hours are those of the winter, to the end of February in the garden") {
  Yard yard(at("2026-04-20T12:00:00Z"));
  yard.tell(spring());
  CHECK(only_season(yard).chill ==
        Chill{.chill_hours = 2 * 24, .missing = (61 + 57) * 24});
}

// 1 January to 27 February: 57 days without a reading, and the night to 27 February has
// nine hours.
TEST_CASE("what the store does not hold of a season is told as missing") {
  Yard yard(at("2026-04-20T12:00:00Z"));
  yard.tell(spring());
  const PlaceSeason row = only_season(yard);
  CHECK(row.hours_missing == 57 * 24);
  CHECK(row.nights_missing == 58);
  CHECK(row.nights_in_part == 0);
  CHECK(row.spring.known == 110 - 58);
  CHECK(row.spring.unknown == 58);
}

TEST_CASE("a night with six missing hours is read in part, and they are bridged") {
  Yard yard(at("2026-04-20T12:00:00Z"));
  Weather weather = spring();
  weather.silent = {at("2026-04-16T00:00:00Z"), at("2026-04-16T06:00:00Z")};
  yard.tell(weather);
  const PlaceSeason row = only_season(yard);
  CHECK(row.nights_in_part == 1);
  CHECK(row.hours_missing == 57 * 24);
  CHECK(row.sums.hardy.degree_days ==
        doctest::Approx((52 * 24 + 13 - 4 + 16) / 24.0).epsilon(1e-12));
  // There may have been a frost in them.
  CHECK(row.last_of_spring == FrostDate{2026y / 4 / 7, false});
}

TEST_CASE("a frost that was read is a frost of a night with missing hours too") {
  Yard yard(at("2026-04-20T12:00:00Z"));
  Weather weather = spring();
  weather.silent = {at("2026-04-06T18:00:00Z"), at("2026-04-07T02:00:00Z")};
  yard.tell(weather);
  const PlaceSeason row = only_season(yard);
  CHECK(row.last_of_spring == FrostDate{2026y / 4 / 7, true});
  CHECK(row.nights_in_part == 0);
  CHECK(row.hours_missing == 57 * 24 + 8);
}

TEST_CASE("seven missing hours in a row are not made up") {
  Yard yard(at("2026-04-20T12:00:00Z"));
  Weather weather = spring();
  weather.silent = {at("2026-04-16T00:00:00Z"), at("2026-04-16T07:00:00Z")};
  yard.tell(weather);
  CHECK(only_season(yard).hours_missing == 57 * 24 + 7);
}

TEST_CASE("29 February has a night, and stands beside 28 February of the year before") {
  Yard yard(at("2028-02-29T12:00:00Z"));
  yard.tell({.from = at("2026-12-31T00:00:00Z"),
             .to = at("2028-02-29T12:00:00Z"),
             .otherwise = {{at("2027-02-28T05:00:00Z"), -300},
                           {at("2027-03-01T05:00:00Z"), -400},
                           {at("2028-02-29T05:00:00Z"), -200}}});
  const SeasonAnswer answer = yard.answer();
  REQUIRE(answer.rows.size() == 3);
  CHECK(answer.rows[0].last_of_spring == FrostDate{2028y / 2 / 29, true});
  CHECK(answer.rows[0].sums.frost_nights == 1);
  CHECK(answer.rows[1].sums.frost_nights == 2);
  CHECK(answer.rows[1].by_today.value().frost_nights == 1);
  CHECK(answer.rows[1].by_today.value().frost_hours == 1);
  // 58 days and 13 hours to 28 February, 13:00 in the garden, but for the cold hour.
  CHECK(answer.rows[1].by_today.value().hardy.degree_days ==
        doctest::Approx((58 * 24 + 13 - 1) / 24.0));
  CHECK(answer.rows[1].nights_missing == 0);
  CHECK(answer.rows[1].hours_missing == 0);
  // The year of the first readings: the last day of December.
  CHECK(answer.rows[2].year == 2026y);
}

TEST_CASE("the first hours of a year are no season of the year before") {
  Yard yard(at("2026-01-05T12:00:00Z"));
  // Until 09:00 they belong to the thermometer's day of 31 December.
  yard.tell({.from = at("2025-12-31T23:00:00Z"), .to = at("2026-01-05T12:00:00Z")});
  CHECK(only_season(yard).year == 2026y);
}

TEST_CASE("the hour under way counts as far as it was read") {
  Yard yard(at("2026-04-20T12:00:00Z"));
  Weather weather = spring();
  weather.to += hours{1};
  yard.tell(weather);
  const PlaceSeason row = only_season(yard);
  CHECK(row.sums.hardy.degree_days ==
        doctest::Approx((52 * 24 + 14 - 4 + 16) / 24.0).epsilon(1e-12));
  CHECK(row.hours_missing == 57 * 24);
}

TEST_CASE("the frosts of a whole year bound its summer") {
  Yard yard(at("2026-12-05T12:00:00Z"));
  yard.tell({.from = at("2025-12-30T00:00:00Z"),
             .to = at("2026-12-05T12:00:00Z"),
             .otherwise = {{at("2026-05-09T03:00:00Z"), -100},
                           {at("2026-10-25T02:00:00Z"), -100},
                           {at("2026-11-20T02:00:00Z"), -100}}});
  const SeasonAnswer answer = yard.answer(2026y);
  REQUIRE(answer.rows.size() == 1);
  const PlaceSeason& row = answer.rows.front();
  CHECK(row.last_of_spring == FrostDate{2026y / 5 / 9, true});
  CHECK(row.first_of_autumn == FrostDate{2026y / 10 / 25, true});
  CHECK(row.nights_in_part + row.nights_missing == 0);
  // 59 days; of 2026's own coming winter, 1 November to noon of 5 December less a frost.
  CHECK(row.chill == Chill{.chill_hours = 59 * 24 + 47, .missing = 59 * 24 + 1});
  CHECK(row.coming_chill == Chill{.chill_hours = 34 * 24 + 13 - 1, .missing = 0});
}

TEST_CASE("south of the equator a season begins in July") {
  const Zone zone = Zone::named("Pacific/Auckland").value();
  Yard yard(at("2026-05-20T00:00:00Z"), zone);
  yard.garden().position = {-41.2, 174.8};
  yard.tell({.from = at("2025-06-29T00:00:00Z"),
             .to = at("2026-05-20T00:00:00Z"),
             .otherwise = {{at("2025-10-02T17:00:00Z"), -200},
                           {at("2026-05-10T18:00:00Z"), -300}}});
  const SeasonAnswer answer = yard.answer(2025y);
  REQUIRE(answer.rows.size() == 1);
  const PlaceSeason& row = answer.rows.front();
  CHECK(answer.is_southern);
  CHECK(row.is_under_way);
  CHECK(row.last_of_spring == FrostDate{2025y / 10 / 3, true});
  CHECK(row.first_of_autumn == FrostDate{2026y / 5 / 11, true});
  CHECK(yard.shown().find("2025/26 so far") != std::string::npos);
  CHECK(yard.shown().find("chill hours, May to Aug") != std::string::npos);
}

TEST_CASE("the season of a place goes on over a change of its sensor") {
  Yard yard(at("2026-04-20T12:00:00Z"));
  Weather before = spring();
  Weather after = spring();
  before.to = after.from = at("2026-04-01T10:00:00Z");
  yard.tell_by_gone(before);
  yard.tell(after);
  const PlaceSeason row = only_season(yard);
  CHECK(row.sums.frost_nights == 2);
  CHECK(row.coldest == DatedAir{{-1.0}, 2026y / 3 / 29});
  CHECK(row.hours_missing == 57 * 24);
  CHECK(row.nights_missing == 58);
}

TEST_CASE("where two sensors speak of a place the first of the settings counts") {
  Yard yard(at("2026-04-20T12:00:00Z"));
  yard.tell(spring());
  Weather colder = spring();
  colder.otherwise = {{at("2026-04-09T04:00:00Z"), -5'000}};
  yard.tell_by_gone(colder);
  const PlaceSeason row = only_season(yard);
  CHECK(row.sums.frost_nights == 2);
  CHECK(row.coldest == DatedAir{{-1.0}, 2026y / 3 / 29});
}

TEST_CASE("a store without a reading has no season") {
  Yard yard(at("2026-04-20T12:00:00Z"));
  CHECK(yard.answer().rows.empty());
  CHECK(yard.shown().find("No air temperature is stored yet.") != std::string::npos);
}

TEST_CASE("a garden in Fahrenheit has its degree days and bases in Fahrenheit") {
  Yard yard(at("2026-04-20T12:00:00Z"));
  yard.garden().units = TemperatureUnit::kFahrenheit;
  yard.tell(spring());
  const std::string text = yard.shown();
  // 53.04 degree days C.
  CHECK(text.find("degree days above 41 °F            95") != std::string::npos);
  CHECK(text.find("degree days above 50 °F             1") != std::string::npos);
  CHECK(text.find("30.2, 29 Mar") != std::string::npos);
}

TEST_CASE("seasons that the screen has no room for are named") {
  Yard yard(at("2026-04-20T12:00:00Z"));
  for (const char* year : {"2023", "2024", "2025", "2026"}) {
    const Instant from = at(std::string(year) + "-03-01T00:00:00Z");
    yard.tell({.from = from, .to = from + hours{72}});
  }
  CHECK(yard.shown(60).find("Before that: 2024, 2023. See --year 2024.") !=
        std::string::npos);
  CHECK(yard.shown(120).find("Before that") == std::string::npos);
}

TEST_CASE("ten springs tell after which date one in ten had a frost") {
  // The twenty springs of tests/daemon/climate/frost_test.cc, by the day of the year.
  constexpr std::array kLastFrosts{112, 118, 105, 121, 99,  127, 110, 115, 124, 108,
                                   119, 103, 130, 113, 117, 109, 122, 101, 116, 111};
  const Place place = testing::yard();
  SeasonAnswer answer;
  std::chrono::year year{2005};
  for (const int day : kLastFrosts) {
    PlaceSeason row{.place = &place, .year = year};
    row.last_of_spring = {season_of(year, false).begins + days{day - 1}, true};
    answer.rows.push_back(row);
    year += std::chrono::years{1};
  }
  const auto risk = frost_risk(answer, place, 2026y);
  REQUIRE(risk);
  CHECK(risk->date == sys_days{2026y / 5 / 5});  // day 124.9
  CHECK(risk->springs == 20);
  answer.rows.resize(9);
  CHECK_FALSE(frost_risk(answer, place, 2026y));
}

TEST_CASE("noted frosts count where no thermometer has the whole night") {
  Yard yard(at("2026-04-20T12:00:00Z"));
  yard.tell(spring());
  const PlaceSeason before = only_season(yard);
  // Before the readings, and beside a night that was read whole.
  yard.note({.date = 2026y / 2 / 10, .place = "yard", .low = -7'000, .high = 3'000});
  yard.note({.date = 2026y / 4 / 15, .place = "yard", .low = -3'000, .high = 30'000});
  const PlaceSeason row = only_season(yard);
  CHECK(row.sums.frost_nights == before.sums.frost_nights + 1);
  CHECK(row.coldest == DatedAir{Celsius{-7}, 2026y / 2 / 10});
  CHECK(row.warmest == before.warmest);
  CHECK(row.last_of_spring == before.last_of_spring);
  CHECK(row.nights_missing == before.nights_missing - 1);
  CHECK(row.hours_missing == before.hours_missing);
}

TEST_CASE("a year known by notes alone has frosts and extremes, but no sums over hours") {
  Yard yard(at("2026-04-20T12:00:00Z"));
  yard.note({.date = 2024y / 5 / 4, .place = "yard", .low = -1'500, .high = {}});
  yard.note({.date = 2024y / 8 / 1, .place = "yard", .low = {}, .high = 33'000});
  const SeasonAnswer answer = yard.answer();
  REQUIRE(answer.rows.size() == 1);
  const PlaceSeason& row = answer.rows.front();
  CHECK(row.year == 2024y);
  CHECK_FALSE(row.has_hours);
  CHECK(row.sums.frost_nights == 1);
  CHECK(row.last_of_spring->night == sys_days{2024y / 5 / 4});
  CHECK(row.warmest == DatedAir{Celsius{33}, 2024y / 8 / 1});
  CHECK_FALSE(row.chill);
  const std::string text = yard.shown();
  CAPTURE(text);
  CHECK(text.find("hours of frost                     -\n") != std::string::npos);
  CHECK(text.find("degree days above 5 °C             -\n") != std::string::npos);
  CHECK(yard.asked("2024", Format::kJson).text.find("\"frost_hours\": null") !=
        std::string::npos);
  CHECK(yard.asked("2024", Format::kCsv).text.find(",2024-08-01,33.000,,,,,,0,") !=
        std::string::npos);
}

TEST_CASE("a season is asked for by its year or by how long ago it was") {
  Yard yard(at("2026-04-20T12:00:00Z"));
  yard.tell(spring());
  yard.note({.date = 2025y / 5 / 4, .place = "yard", .low = -1'500, .high = {}});
  for (const char* const when : {"2025", "last year", "Last Season"}) {
    CAPTURE(when);
    const std::string text = yard.asked(when).text;
    CHECK(text.find(" 2025\n") != std::string::npos);
    CHECK(text.find("2026 so far") == std::string::npos);
  }
  CHECK(yard.asked("this year").text.find("2026 so far") != std::string::npos);
  CHECK(yard.asked("lats year").trouble ==
        "season: expected a year such as 2025, \"this year\" or \"last year\", got "
        "\"lats year\"; did you mean \"last year\"?");
  CHECK(yard.asked("25").status == 2);
  CHECK(yard.asked("2025/26").status == 2);
}

TEST_CASE("in the south a season is asked for by the name that it is shown under") {
  Yard yard(at("2026-04-20T12:00:00Z"));
  yard.garden().position.latitude = -41;
  yard.tell(spring());
  CHECK(yard.asked("2025/26").text.find("2025/26 so far") != std::string::npos);
  CHECK(yard.asked("this year").text.find("2025/26 so far") != std::string::npos);
}

}  // namespace rimeward
