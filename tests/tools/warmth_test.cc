// `rimeward warmth` on air made by formula: the sums can be reckoned by hand.

#include <cmath>
#include <string>

#include <doctest/doctest.h>
#include <nlohmann/json.hpp>

#include "sensors/iso_time.h"
#include "tests/tools/season_garden.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;
using nlohmann::json;
using std::chrono::days;
using testing::SeasonGarden;

Instant at(std::string_view text) {
  return parse_instant(text).value();
}

bool has(const std::string& text, std::string_view part) {
  return text.find(part) != std::string::npos;
}

json first_batch(SeasonGarden& garden) {
  return json::parse(garden.run("warmth --json").text).at("batches").at(0);
}

// The same air at any hour.
std::function<double(Instant)> always(double air) {
  return [air](Instant) { return air; };
}

const Instant kLongAgo = at("2026-03-01T00:00:00Z");

TEST_CASE("degree days are the hours above the base since the midnight of the sowing") {
  SeasonGarden garden;
  garden.air(SeasonGarden::kGlass, kLongAgo, always(16));
  garden.run("batch add chilli --place glasshouse --sown 2026-04-02");
  const json batch = first_batch(garden);
  // From 1 April 22:00 UTC to 12 April 16:40: 258 hours and the one under way, 6 above.
  CHECK(batch.at("hours") == 259);
  CHECK(batch.at("hours_missing") == 0);
  CHECK(batch.at("celsius_days").get<double>() == doctest::Approx(259 * 6 / 24.0));
  const json stage = batch.at("stages").at(0);
  CHECK(stage.at("stage") == "emergence");
  CHECK(stage.at("celsius_days").get<double>() == doctest::Approx(259 * 6 / 24.0));
  CHECK(stage.at("celsius_days_a_day").get<double>() == doctest::Approx(6));
  CHECK(stage.at("reached").is_null());
  // 35.25 remain, at 6 a day six days, a day to either side.
  CHECK(stage.at("due").at("by_pace").at("earliest") == "2026-04-17");
  CHECK(stage.at("due").at("by_pace").at("latest") == "2026-04-19");
  CHECK(stage.at("due").at("past_years") == 0);
  CHECK(batch.at("stages").at(1).at("celsius_days").is_null());
}

TEST_CASE(
    "a stage counted from another begins when that was reached, above its own base") {
  SeasonGarden garden;
  garden.air(SeasonGarden::kGlass, kLongAgo, always(30));
  garden.run("batch add chilli --place glasshouse --sown 2026-04-02");
  const json batch = first_batch(garden);
  // 100 at 20 a day: five days after 1 April 22:00 UTC.
  CHECK(batch.at("stages").at(0).at("reached") == "2026-04-06T22:00:00Z");
  // From there 139 hours of 18, for above 26 C no more counts.
  const json stage = batch.at("stages").at(1);
  CHECK(stage.at("celsius_days").get<double>() == doctest::Approx(139 * 18 / 24.0));
  CHECK(stage.at("upper_celsius").get<double>() == 26);
}

TEST_CASE("each place counts for the time that the batch stood in it") {
  SeasonGarden garden;
  garden.air(SeasonGarden::kGlass, kLongAgo, always(20));
  garden.air(SeasonGarden::kNorth, kLongAgo, always(12));
  garden.run("batch add chilli --place glasshouse --sown 2026-04-02");
  garden.run("batch move chillies north-frame --on 2026-04-05");
  // 84 hours until noon of the 5th, 10:00 UTC, then 175 with the one under way.
  const json batch = first_batch(garden);
  CHECK(batch.at("celsius_days").get<double>() ==
        doctest::Approx((84 * 10 + 175 * 2) / 24.0));
  CHECK(batch.at("stages").at(0).at("celsius_days_a_day").get<double>() ==
        doctest::Approx(2));
}

TEST_CASE("hours without a reading count for nothing and are told") {
  SeasonGarden garden;
  garden.air(SeasonGarden::kGlass, at("2026-04-04T22:00:00Z"), always(16));
  garden.run("batch add chilli --place glasshouse --sown 2026-04-02");
  const json batch = first_batch(garden);
  CHECK(batch.at("hours_missing") == 72);
  CHECK(batch.at("celsius_days").get<double>() == doctest::Approx(187 * 6 / 24.0));
  const std::string text = garden.run("warmth").text;
  CHECK(has(text, "chillies: 72 of 259 hours since it was sown have no reading"));
}

TEST_CASE("past years are told beside the last week, and both united") {
  SeasonGarden garden;
  // 16 C in this spring and 14 and 20 in the two before.
  const Instant year_2025 = at("2025-02-01T00:00:00Z");
  const Instant year_2026 = at("2026-02-01T00:00:00Z");
  garden.air(SeasonGarden::kGlass, at("2024-03-01T00:00:00Z"), [&](Instant time) {
    return time < year_2025 ? 20.0 : time < year_2026 ? 14.0 : 16.0;
  });
  garden.run("batch add chilli --place glasshouse --sown 2026-04-12");
  const json due = first_batch(garden).at("stages").at(0).at("due");
  // 95.25 remain: at 10 a day ten days, at 4 a day 24.
  CHECK(due.at("past_years") == 2);
  CHECK(due.at("by_past_years").at("earliest") == "2026-04-22");
  CHECK(due.at("by_past_years").at("latest") == "2026-05-06");
  // At 6 a day 16, a tenth to either side; the short 29 March makes the pace unsteady
  // by enough for a day more.
  CHECK(due.at("by_pace").at("earliest") == "2026-04-26");
  CHECK(due.at("by_pace").at("latest") == "2026-05-01");
  CHECK(due.at("span").at("earliest") == "2026-04-22");
  CHECK(due.at("span").at("latest") == "2026-05-06");
  garden.width(120);
  CHECK(
      has(garden.run("warmth").text, "26 Apr to 1 May; by 2 past years 22 Apr to 6 May"));
}

TEST_CASE("a cold place foresees nothing, and a silent one says so") {
  SeasonGarden garden;
  garden.air(SeasonGarden::kGlass, kLongAgo, always(8));
  garden.run("batch add chilli --place glasshouse --sown 2026-04-02");
  garden.run("batch add chilli --place north-frame --sown 2026-04-02 --name early");
  garden.width(120);
  const std::string text = garden.run("warmth").text;
  CHECK(has(text,
            "chillies  emergence   0 of 100    0.0  not foreseeable: no warmth "
            "lately"));
  CHECK(has(text,
            "early     emergence   - of 100      -  too few readings of the last "
            "week to say"));
}

TEST_CASE("what no hour is known of is not nothing but not known") {
  SeasonGarden garden;
  garden.run("batch add chilli --place pea-bed --sown 2026-04-02");
  const json batch = first_batch(garden);
  CHECK(batch.at("celsius_days").is_null());
  CHECK(batch.at("stages").at(0).at("celsius_days").is_null());
  const std::string csv = garden.run("warmth --place yard --base 10 --csv").text;
  CHECK(has(csv, "\nyard,,,2442,2442,"));
}

TEST_CASE("one batch is shown stage by stage") {
  SeasonGarden garden;
  garden.air(SeasonGarden::kGlass, kLongAgo, always(30));
  garden.run("batch add chilli --place glasshouse --sown 2026-04-02 --count 24");
  CHECK(garden.run("warmth chillies").text ==
        "chillies: 24 chillies, sown 2 Apr, in the glasshouse\n"
        "\n"
        "stage            above     °C days  a day  due\n"
        "emergence      10.0 °C  100 of 100      -  reached 7 Apr\n"
        "transplanting   8.0 °C  104 of 200   18.0  17 to 19 Apr\n"
        "\n"
        "chillies: not yet taken by rimewardd.\n");
}

TEST_CASE("a crop without stages is told its sum alone") {
  SeasonGarden garden;
  garden.air(SeasonGarden::kGlass, kLongAgo, always(16));
  garden.run("batch add thyme --place glasshouse --sown 2026-04-02");
  CHECK(has(garden.run("warmth thyme").text,
            "129 °C days above 4.0 °C since it was sown; no sum is known"));
}

TEST_CASE("a finished batch has the warmth until it was finished and is due no more") {
  SeasonGarden garden;
  garden.air(SeasonGarden::kGlass, kLongAgo, always(16));
  garden.run("batch add chilli --place glasshouse --sown 2026-04-02");
  garden.run("batch finish chillies --on 2026-04-05");
  CHECK(has(garden.run("warmth").text, "There is no batch that is not finished."));
  const json batch =
      json::parse(garden.run("warmth chillies --json").text).at("batches").at(0);
  CHECK(batch.at("celsius_days").get<double>() == doctest::Approx(4 * 6));
  CHECK(batch.at("stages").at(0).at("due").is_null());
}

TEST_CASE("Fahrenheit is shown 1.8 times as much, and JSON and CSV stay as they are") {
  SeasonGarden garden;
  garden.air(SeasonGarden::kGlass, kLongAgo, always(16));
  garden.run("batch add chilli --place glasshouse --sown 2026-04-02");
  const std::string csv = garden.run("warmth --csv").text;
  const json before = first_batch(garden);
  garden.garden().units = TemperatureUnit::kFahrenheit;
  CHECK(garden.run("warmth --csv").text == csv);
  CHECK(first_batch(garden) == before);
  // 64.75 and 100 degree C days, 6 a day.
  CHECK(has(garden.run("warmth").text, "emergence   116 of 180   10.8  17 to 19 Apr"));
  CHECK(has(garden.run("warmth").text, "°F days"));
}

TEST_CASE("places are told above a base, since a day, with a target") {
  SeasonGarden garden;
  garden.air(SeasonGarden::kGlass, kLongAgo, always(16));
  CHECK(garden.run("warmth --place glasshouse --base 10 --since 2026-04-02").text ==
        "°C days above 10.0 °C since 2 Apr\n"
        "\n"
        "place       °C days  a day\n"
        "Glasshouse       64    6.0\n");
  const json place =
      json::parse(garden
                      .run("warmth --place glasshouse --base 10 --since 2026-04-02 "
                           "--target 100 --json")
                      .text)
          .at("places")
          .at(0);
  CHECK(place.at("celsius_days").get<double>() == doctest::Approx(64.75));
  CHECK(place.at("due").at("by_pace").at("earliest") == "2026-04-17");
  CHECK(place.at("reached") == false);
  // By itself since 1 January; of the others nothing is known.
  const std::string all = garden.run("warmth --base 10 --target 60").text;
  CHECK(has(all, "since 1 Jan, and when 60 will be met"));
  CHECK(has(all, "reached"));
  CHECK(has(all, "North frame"));
}

TEST_CASE("the base and the target of a garden in Fahrenheit are in Fahrenheit") {
  SeasonGarden garden;
  garden.garden().units = TemperatureUnit::kFahrenheit;
  garden.air(SeasonGarden::kGlass, kLongAgo, always(16));
  const json answer = json::parse(
      garden
          .run("warmth --place glasshouse --base 50 --since 2026-04-02 --target 180 "
               "--json")
          .text);
  CHECK(answer.at("base_celsius").get<double>() == doctest::Approx(10));
  CHECK(answer.at("celsius_days_needed").get<double>() == doctest::Approx(100));
  CHECK(answer.at("places").at(0).at("celsius_days").get<double>() ==
        doctest::Approx(64.75));
}

TEST_CASE("what cannot be asked is refused in words") {
  SeasonGarden garden;
  garden.run("batch add chilli --place glasshouse");
  CHECK(garden.run("warmth chilies").trouble ==
        "no batch \"chilies\"; did you mean \"chillies\"?; batches: chillies");
  CHECK(garden.run("warmth chillies --base 10").trouble ==
        "--place, --base, --since and --target ask about places: leave the batch out");
  CHECK(garden.run("warmth --place glasshouse").trouble ==
        "warmth of a place needs --base T: degree days above which temperature");
  CHECK(garden.run("warmth --base 90").trouble ==
        "--base: expected a temperature in °C such as 10, got 90");
  CHECK(garden.run("warmth --base 10 --target 0").trouble ==
        "--target: expected degree days such as 450, got 0");
  CHECK(garden.run("warmth --base 10 --since 2027-01-01").status == 2);
  CHECK(garden.run("warmth --base 10 --place galsshouse").status == 2);
}

TEST_CASE("every answer about warmth fits a narrow screen") {
  SeasonGarden garden;
  garden.air(SeasonGarden::kGlass, at("2024-03-01T00:00:00Z"), [](Instant time) {
    const double hours = static_cast<double>(time.time_since_epoch() / 1h);
    return 15 + 5 * std::sin(hours / 24.0);
  });
  garden.run("batch add chilli --place glasshouse --sown 2026-04-02 --next north-frame");
  garden.run("batch add thyme --place north-frame --name the-herbs-by-the-door");
  garden.width(60);
  for (const char* command : {"warmth", "warmth chillies", "warmth the-herbs-by-the-door",
                              "warmth --base 10 --target 900", "warmth --base 10"}) {
    CAPTURE(command);
    std::istringstream lines(garden.run(command).text);
    for (std::string line; std::getline(lines, line);) {
      CAPTURE(line);
      CHECK(display_width(line) <= 60);
    }
  }
}

}  // namespace
}  // namespace rimeward
