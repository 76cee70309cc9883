#include "daemon/settings_advice.h"

#include <string>
#include <vector>

#include <doctest/doctest.h>

namespace rimeward {
namespace {

using namespace std::chrono_literals;
using Messages = std::vector<std::string>;

struct Outcome {
  Advice advice;
  Messages mistakes;
};

Outcome advice_in(const std::string& toml) {
  Mistakes mistakes("garden.toml");
  Outcome outcome;
  auto file = Keys::of_text(toml, mistakes);
  REQUIRE(file);
  read_advice(*file, outcome.advice);
  file->refuse_unread();
  outcome.mistakes = mistakes.in_order_of_lines();
  return outcome;
}

struct PlaceOutcome {
  Place place;
  Messages mistakes;
};

PlaceOutcome place_in(const std::string& toml) {
  Mistakes mistakes("garden.toml");
  PlaceOutcome outcome;
  auto file = Keys::of_text(toml, mistakes);
  REQUIRE(file);
  Keys keys = file->tables("place").at(0);
  read_water_marks(keys, outcome.place);
  keys.refuse_unread();
  outcome.mistakes = mistakes.in_order_of_lines();
  return outcome;
}

TEST_CASE("without tables of advice the published thresholds hold") {
  const auto [advice, mistakes] = advice_in("");
  CHECK(mistakes.empty());
  CHECK(advice.damp.humidity == RelativeHumidity{90});
  CHECK(advice.damp.warmer_than == Celsius{10});
  CHECK(advice.damp.cooler_than == Celsius{25});
  CHECK(advice.damp.for_hours == 6h);
  CHECK(advice.blight.low == Celsius{10});
  CHECK(advice.blight.humidity == RelativeHumidity{90});
  CHECK(advice.blight.for_hours == 6h);
  CHECK(advice.dry.covered == KilopascalHours{24});
  CHECK(advice.dry.open == KilopascalHours{48});
}

TEST_CASE("every threshold of advice can be set") {
  const auto [advice, mistakes] = advice_in(
      "[damp]\nhumidity = 85\nwarmer_than = 8.5\ncooler_than = 28\nfor = \"8 h\"\n"
      "[blight]\nlow = 9\nhumidity = 88.5\nfor = \"1 day\"\n"
      "[dry]\ncovered = 12.5\nopen = 60\n");
  CHECK(mistakes.empty());
  CHECK(advice.damp.humidity == RelativeHumidity{85});
  CHECK(advice.damp.warmer_than == Celsius{8.5});
  CHECK(advice.damp.cooler_than == Celsius{28});
  CHECK(advice.damp.for_hours == 8h);
  CHECK(advice.blight.low == Celsius{9});
  CHECK(advice.blight.humidity == RelativeHumidity{88.5});
  CHECK(advice.blight.for_hours == 24h);
  CHECK(advice.dry.covered == KilopascalHours{12.5});
  CHECK(advice.dry.open == KilopascalHours{60});
}

TEST_CASE("a mistake in advice is told with file, line, table, key and remedy") {
  struct Row {
    std::string toml;
    Messages mistakes;
  };
  const Row rows[] = {
      {"[damp]\nhumidity = 40",
       {"garden.toml:2: [damp] humidity: expected 50 to 100, got 40"}},
      {"[damp]\nhumidity = \"90\"",
       {"garden.toml:2: [damp] humidity: expected a number from 50 to 100, got \"90\""}},
      {"[damp]\nwarmer_than = 50",
       {"garden.toml:2: [damp] warmer_than: expected 0 to 40, got 50"}},
      {"[damp]\nwarmer_than = 25",
       {"garden.toml:2: [damp] warmer_than: cooler_than, 25, is not above warmer_than, "
        "25; raise cooler_than or lower warmer_than"}},
      {"[damp]\nwarmer_than = 12\ncooler_than = 11",
       {"garden.toml:3: [damp] cooler_than: cooler_than, 11, is not above warmer_than, "
        "12; raise cooler_than or lower warmer_than"}},
      {"[damp]\nfor = 6",
       {"garden.toml:2: [damp] for: expected a duration such as \"30 min\", got 6"}},
      {"[damp]\nfor = \"90 min\"",
       {"garden.toml:2: [damp] for: is no number of whole hours; write \"6 h\""}},
      {"[damp]\nfor = \"2 days\"",
       {"garden.toml:2: [damp] for: expected \"1 h\" to \"1 day\", got \"2 days\""}},
      {"[damp]\nhours = 6",
       {"garden.toml:2: [damp] hours: unknown key; known: cooler_than, for, humidity, "
        "warmer_than"}},
      {"[blight]\nlow = -1", {"garden.toml:2: [blight] low: expected 0 to 40, got -1"}},
      {"[blight]\nhumidity = 101\nfor = \"30 min\"",
       {"garden.toml:2: [blight] humidity: expected 50 to 100, got 101",
        "garden.toml:3: [blight] for: expected \"1 h\" to \"1 day\", got \"30 min\""}},
      {"[blight]\nlov = 9",
       {"garden.toml:2: [blight] lov: unknown key; did you mean \"low\"?"}},
      {"[dry]\ncovered = 0", {"garden.toml:2: [dry] covered: expected 1 to 1000, got 0"}},
      {"[dry]\nopen = nan", {"garden.toml:2: [dry] open: expected 1 to 1000, got nan"}},
      {"[dry]\nopened = 9",
       {"garden.toml:2: [dry] opened: unknown key; did you mean \"open\"?"}},
      {"[[dry]]\nopen = 9",
       {"garden.toml:1: dry: expected one table, got a list; write [dry] once"}},
  };
  for (const Row& row : rows) {
    CAPTURE(row.toml);
    CHECK(advice_in(row.toml).mistakes == row.mistakes);
  }
}

TEST_CASE("a place may have its own marks of dryness, and none without") {
  const auto [place, mistakes] =
      place_in("[[place]]\ndry_after = 18.5\nsoil_moisture_low = 22");
  CHECK(mistakes.empty());
  CHECK(place.dry_after == KilopascalHours{18.5});
  CHECK(place.soil_moisture_low == 22.0);
  const Place none = place_in("[[place]]").place;
  CHECK_FALSE(none.dry_after);
  CHECK_FALSE(none.soil_moisture_low);
}

TEST_CASE("marks of dryness out of range are refused") {
  CHECK(place_in("[[place]]\ndry_after = 0\nsoil_moisture_low = 101").mistakes ==
        Messages{"garden.toml:2: [[place]] dry_after: expected 1 to 1000, got 0",
                 "garden.toml:3: [[place]] soil_moisture_low: expected 0 to 100, got "
                 "101"});
}

}  // namespace
}  // namespace rimeward
