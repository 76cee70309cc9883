#include <doctest/doctest.h>

#include "tests/daemon/notice/hours_garden.h"

using namespace rimeward;
using namespace rimeward::testing;
using namespace std::chrono_literals;

namespace {

// The glasshouse on the afternoon of 13 April, watered two days before.
struct Watered {
  HoursGarden garden;
  HoursPlace* house = nullptr;

  Watered() { house = &garden.add("glasshouse", "Glasshouse", PlaceKind::kGreenhouse); }

  // 44 hours since the watering, less those without a reading.
  void demand(double kilopascal_hours, int missing = 0) {
    house->dryness =
        Dryness{.since = at("2026-04-11T16:10:00Z"),
                .demand = {.amount = to_milli(kilopascal_hours), .hours = 44 - missing}};
  }

  void soil(double percent, std::string_view when = "2026-04-13T11:55:00Z") {
    house->place.soil_moisture_low = 20;
    house->soil_moisture = SoilMoisture{.percent = percent, .at = at(when)};
  }

  std::vector<Finding> find(std::string_view now = "2026-04-13T12:10:00Z") const {
    return find_dry(garden.look(now));
  }

  std::string with_demand(double kilopascal_hours) {
    demand(kilopascal_hours);
    return state_of(find());
  }

  std::string with_soil(double percent) {
    soil(percent);
    return state_of(find());
  }
};

}  // namespace

TEST_CASE("air that drew its allowance since the watering asks to look at the water") {
  Watered watered;
  watered.demand(26.4);
  const auto findings = watered.find();
  REQUIRE(findings.size() == 1);
  const Finding& finding = findings.front();
  CHECK(finding.holds);
  CHECK(finding.subject == "glasshouse");
  CHECK(finding.place == "glasshouse");
  CHECK(finding.title == "Look at the water in the glasshouse");
  // 26.4 / 14.1 = 1.9.
  CHECK(finding.body ==
        "Since the last watering at 18:10 on Sat 2026-04-11 its air has drawn as much "
        "water as 2 fine summer days do in the open (26 kPa h; its mark is 24). Feel the "
        "soil a finger deep and water what is dry, in the morning if you can. The plants "
        "themselves are not measured: large ones dry out sooner.");
}

TEST_CASE("drying holds at the allowance, lingers down to nine tenths of it") {
  Watered watered;
  CHECK(watered.with_demand(24) == "holds");
  CHECK(watered.with_demand(23.9) == "lingers");
  CHECK(watered.with_demand(21.6) == "lingers");
  CHECK(watered.with_demand(21.5).empty());
}

TEST_CASE("open places have an allowance of their own, and rain is said to be unknown") {
  Watered watered;
  watered.house->place.kind = PlaceKind::kBed;
  CHECK(watered.with_demand(43).empty());
  CHECK(watered.with_demand(48) == "holds");
  CHECK(watered.find().front().body.find("(48 kPa h; its mark is 48). Rain is not "
                                         "measured. Feel") != std::string::npos);
}

TEST_CASE("the place's own dry_after comes before the garden's") {
  Watered watered;
  watered.garden.advice.dry.covered = KilopascalHours{40};
  CHECK(watered.with_demand(35).empty());
  CHECK(watered.with_demand(40) == "holds");
  watered.house->place.dry_after = KilopascalHours{10};
  CHECK(watered.with_demand(10) == "holds");
  CHECK(watered.find().front().body.find("as much water as a fine summer day does in") !=
        std::string::npos);
}

TEST_CASE("nothing is reckoned before a watering is known, nor of soil without a mark") {
  Watered watered;
  CHECK(watered.find().empty());
  watered.soil(5);
  watered.house->place.soil_moisture_low.reset();
  CHECK(watered.find().empty());
}

TEST_CASE("soil is dry below its mark, and well again 3 % above it") {
  Watered watered;
  CHECK(watered.with_soil(19.9) == "holds");
  CHECK(watered.with_soil(20) == "lingers");
  CHECK(watered.with_soil(22.9) == "lingers");
  CHECK(watered.with_soil(23).empty());
  watered.soil(17.6);
  CHECK(watered.find().front().body.starts_with(
      "The soil's moisture was 18 % at 13:55 on Mon 2026-04-13; its mark is 20 %. Feel"));
}

TEST_CASE("what the soil said more than a day ago says nothing of it now") {
  Watered watered;
  watered.soil(10, "2026-04-12T12:10:00Z");
  CHECK(state_of(watered.find()) == "holds");
  watered.soil(10, "2026-04-12T12:09:59Z");
  CHECK(watered.find().empty());
}

TEST_CASE("dry soil and dry air are one notice that tells both") {
  Watered watered;
  watered.demand(26.4);
  watered.soil(15);
  const auto findings = watered.find();
  REQUIRE(findings.size() == 1);
  CHECK(findings.front().body.starts_with(
      "The soil's moisture was 15 % at 13:55 on Mon 2026-04-13; its mark is 20 %. Since "
      "the last watering at"));
  watered.demand(22);
  CHECK(state_of(watered.find()) == "holds");
  watered.demand(26.4);
  watered.soil(21);
  CHECK(state_of(watered.find()) == "holds");
}

TEST_CASE("twice the allowance, or half the moisture, is a whole step of urgency") {
  Watered watered;
  watered.demand(24);
  CHECK(watered.find().front().urgency == doctest::Approx(0));
  watered.demand(48);
  CHECK(watered.find().front().urgency == doctest::Approx(1));
  watered.demand(24);
  watered.soil(10);
  CHECK(watered.find().front().urgency == doctest::Approx(1));
}

TEST_CASE("many hours without a reading are told, few are not") {
  Watered watered;
  watered.demand(26.4, 5);
  CHECK(watered.find().front().body.find("no reading") == std::string::npos);
  watered.demand(26.4, 6);
  CHECK(watered.find().front().body.find(
            "For 6 hours of these there is no reading: it may be drier.") !=
        std::string::npos);
}

TEST_CASE("nobody is sent to water in the dark, nor late on a light evening") {
  Watered watered;
  watered.demand(30);
  CHECK(state_of(watered.find("2026-04-13T18:03:00Z")) == "holds");
  CHECK(state_of(watered.find("2026-04-13T18:04:00Z")) == "lingers");
  watered.garden.night.sunset = at("2026-04-13T20:00:00Z");
  CHECK(state_of(watered.find("2026-04-13T18:59:00Z")) == "holds");
  CHECK(state_of(watered.find("2026-04-13T19:00:00Z")) == "lingers");  // 21:00
}

TEST_CASE("the gardener's own hours come before seven and nine") {
  Watered watered;
  watered.demand(30);
  const auto state = [&](std::string_view now) {
    Situation situation = watered.garden.look(now);
    situation.hours.evening_by = 18h;
    situation.hours.morning_from = 8h + 30min;
    return state_of(find_dry(situation));
  };
  CHECK(state("2026-04-13T06:29:00Z") == "lingers");  // 08:29 by the clock
  CHECK(state("2026-04-13T06:30:00Z") == "holds");
  CHECK(state("2026-04-13T15:59:00Z") == "holds");
  CHECK(state("2026-04-13T16:00:00Z") == "lingers");  // 18:00
}

TEST_CASE("early hours of the gardener's send nobody out before it is light") {
  Watered watered;
  watered.demand(30);
  watered.garden.night.sunset = at("2026-04-12T18:03:00Z");
  watered.garden.night.sunrise = at("2026-04-13T04:38:00Z");
  const auto state = [&](std::string_view now) {
    Situation situation = watered.garden.look(now);
    situation.hours.morning_from = 6h;
    return state_of(find_dry(situation));
  };
  CHECK(state("2026-04-13T04:30:00Z") == "lingers");
  CHECK(state("2026-04-13T04:38:00Z") == "holds");
}

TEST_CASE("in German a dry place is told in German") {
  Watered watered;
  watered.demand(26.4);
  watered.soil(15);
  Situation situation = watered.garden.look("2026-04-13T12:10:00Z");
  situation.wording = german(watered.garden.zone);
  const Finding finding = find_dry(situation).front();
  CHECK(finding.title == "Glasshouse: nach dem Wasser sehen");
  CHECK(finding.body ==
        "Die Bodenfeuchte war 15 % um 13:55 Uhr am Mo, 13.4.2026; die Marke ist 20 %. "
        "Seit dem letzten Gießen um 18:10 Uhr am Sa, 11.4.2026 hat die Luft dort so viel "
        "Wasser gezogen wie im Freien 2 schöne Sommertage (26 kPa h; die Marke ist 24). "
        "Einen Finger tief in die Erde fühlen und gießen, was trocken ist, möglichst "
        "morgens. Die Pflanzen selbst werden nicht gemessen: große trocknen eher aus.");
}
