#include <doctest/doctest.h>

#include "daemon/notice/keeper.h"
#include "tests/daemon/notice/hours_garden.h"

using namespace rimeward;
using namespace rimeward::testing;
using namespace std::chrono_literals;

namespace {

Crop crop_named(const std::string& id, const std::string& plural) {
  return {.id = id, .name = id, .plural = plural};
}

// Two July days from 09 to 09 by the clock (07 UTC), each with so many damp hours.
void fill_days(HoursPlace& place, int first_damp, int second_damp, double air = 12) {
  const auto day = [&](Instant begins, int damp) {
    for (int i = 0; i < 24; ++i) {
      const Instant time = begins + std::chrono::hours{i} + 30min;
      place.hours.add(Channel::kAirTemperature, 0, time, to_milli(air));
      place.hours.add(Channel::kHumidity, 0, time, i < damp ? 90'000 : 89'999);
    }
  };
  day(at("2026-07-09T07:00:00Z"), first_damp);
  day(at("2026-07-10T07:00:00Z"), second_damp);
}

struct July {
  HoursGarden garden;
  HoursPlace* bed = nullptr;
  HoursPlace* yard = nullptr;

  July() {
    garden.night = {.afternoon = at("2026-07-11T14:30:00Z"),
                    .sunset = at("2026-07-11T19:20:00Z"),
                    .sunrise = at("2026-07-12T03:35:00Z")};
    bed = &garden.add("pea-bed", "Pea bed", PlaceKind::kBed);
    yard = &garden.add("yard", "Yard", PlaceKind::kOutdoors);
  }

  std::vector<Finding> find(std::string_view now = "2026-07-11T07:05:00Z") const {
    return find_blight(garden.look(now));
  }
};

std::string state_of_days(int first_damp, int second_damp, double air) {
  July july;
  fill_days(*july.yard, first_damp, second_damp, air);
  return state_of(july.find());
}

}  // namespace

TEST_CASE("two mild and damp days are told at nine, with both days' numbers") {
  July july;
  fill_days(*july.yard, 9, 14);
  july.yard->nights.push_back({.night = 2026y / 7 / 11,
                               .low = Celsius{11.2},
                               .low_at = at("2026-07-11T03:00:00Z")});
  CHECK(july.find("2026-07-11T06:59:00Z").empty());
  const auto findings = july.find("2026-07-11T07:00:00Z");
  REQUIRE(findings.size() == 1);
  const Finding& finding = findings.front();
  CHECK(finding.holds);
  CHECK(finding.subject == "yard");
  CHECK(finding.title == "Look over the potatoes and tomatoes for blight");
  CHECK(
      finding.body ==
      "Two days running in the yard were as mild and damp as blight likes: from 09:00 on "
      "Thu 2026-07-09 low 12.0 °C and 9 hours, from 09:00 on Fri 2026-07-10 low 11.2 °C "
      "and 14 hours, of 90 % humidity or more. (Hutton criteria: low 10.0 °C or more and "
      "6 hours so damp, both days.) Look under the leaves every few days for the next "
      "two "
      "weeks; take brown patches off and out of the garden, and water the soil, not the "
      "leaves. Whether spores are about is not known.");
}

TEST_CASE("6 hours of 90 % and a low of 10 hold on both days, nearly so only lingers") {
  CHECK(state_of_days(6, 6, 10) == "holds");
  CHECK(state_of_days(6, 5, 10) == "lingers");
  CHECK(state_of_days(5, 6, 10) == "lingers");
  CHECK(state_of_days(6, 6, 9.9) == "lingers");
  CHECK(state_of_days(6, 4, 10).empty());
  CHECK(state_of_days(4, 6, 10).empty());
  CHECK(state_of_days(6, 6, 9.4).empty());
}

TEST_CASE("a night's measured low counts where it is under the hourly means") {
  July july;
  fill_days(*july.yard, 9, 9, 10.3);
  NightRow night{
      .night = 2026y / 7 / 10, .low = Celsius{9.3}, .low_at = at("2026-07-10T03:00:00Z")};
  july.yard->nights = {night};
  CHECK(july.find().empty());
  night.low_at = at("2026-07-09T03:00:00Z");  // the day before both
  july.yard->nights = {night};
  CHECK(state_of(july.find()) == "holds");
}

TEST_CASE("the limits are those of the settings") {
  July july;
  fill_days(*july.yard, 8, 8, 9);
  CHECK(july.find().empty());
  july.garden.advice.blight = {
      .low = Celsius{8}, .humidity = RelativeHumidity{85}, .for_hours = 24h};
  CHECK(state_of(july.find()) == "holds");
}

TEST_CASE("a day with hours that are not known is not judged") {
  July july;
  fill_days(*july.yard, 9, 9);
  for (int hour = 12; hour < 18; ++hour) {
    july.yard->hours.remove(Channel::kAirTemperature, 0,
                            at("2026-07-09T00:30:00Z") + std::chrono::hours{hour},
                            12'000);
  }
  CHECK(state_of(july.find()) == "holds");  // six hours are bridged
  july.yard->hours.remove(Channel::kAirTemperature, 0, at("2026-07-09T18:30:00Z"),
                          12'000);
  CHECK(july.find().empty());
}

TEST_CASE("with a list of batches, blight is told where potatoes or tomatoes grow") {
  July july;
  fill_days(*july.yard, 9, 9);
  july.garden.sow("chillies", chilli(), 2026y / 3 / 1, july.yard->place);
  CHECK(july.find().empty());
  july.garden.sow("maris", crop_named("potato", "potatoes"), 2026y / 4 / 1,
                  july.bed->place);
  REQUIRE(july.find().size() == 1);
  CHECK(july.find().front().title == "Look over the potatoes for blight");
  CHECK(july.find().front().subject == "yard");  // the bed is not measured
  fill_days(*july.bed, 9, 9);
  REQUIRE(july.find().size() == 1);
  CHECK(july.find().front().subject == "pea-bed");
}

TEST_CASE("a covered place is watched only for what grows there, with a caveat") {
  July july;
  HoursPlace& house = july.garden.add("glasshouse", "Glasshouse", PlaceKind::kGreenhouse);
  fill_days(house, 9, 9);
  CHECK(july.find().empty());
  july.garden.sow("tomatoes", crop_named("tomato", "tomatoes"), 2026y / 3 / 1,
                  house.place);
  REQUIRE(july.find().size() == 1);
  CHECK(july.find().front().title == "Look over the tomatoes for blight");
  CHECK(july.find().front().body.ends_with(
      "The criteria were made for open ground and say less under cover."));
}

TEST_CASE("without outdoors, beds speak for the open ground") {
  July july;
  fill_days(*july.bed, 9, 9);
  REQUIRE(july.find().size() == 1);
  CHECK(july.find().front().subject == "pea-bed");
  fill_days(*july.yard, 0, 0);
  CHECK(july.find().empty());
}

TEST_CASE(
    "nobody is told of blight in the dark, and a garden in Fahrenheit in its unit") {
  July july;
  fill_days(*july.yard, 9, 9);
  CHECK(state_of(july.find("2026-07-11T19:30:00Z")) == "lingers");
  CHECK(state_of(july.find("2026-07-12T06:59:00Z")) == "holds");
  july.garden.units = TemperatureUnit::kFahrenheit;
  CHECK(july.find().front().body.find("low 53.6 °F and 9 hours") != std::string::npos);
  CHECK(july.find().front().body.find("low 50.0 °F or more") != std::string::npos);
}

TEST_CASE("in German blight is told in German, with a decimal comma") {
  July july;
  fill_days(*july.yard, 9, 14);
  Situation situation = july.garden.look("2026-07-11T07:05:00Z");
  situation.wording = german(july.garden.zone);
  const Finding finding = find_blight(situation).front();
  CHECK(finding.title == "Kartoffeln und Tomaten auf Kraut- und Braunfäule durchsehen");
  CHECK(
      finding.body ==
      "Yard: Zwei Tage nacheinander waren so mild und feucht, wie die Fäule es mag (ab "
      "09:00 Uhr am Do, 9.7.2026 Tiefstwert 12,0 °C und 9 Stunden; ab 09:00 Uhr am Fr, "
      "10.7.2026 Tiefstwert 12,0 °C und 14 Stunden; bei Luftfeuchte 90 % oder mehr). "
      "(Hutton-Kriterien: an beiden Tagen Tiefstwert 10,0 °C oder mehr und 6 Stunden so "
      "feucht.) In den nächsten zwei Wochen alle paar Tage unter die Blätter sehen; was "
      "braune Flecken hat, abnehmen und aus dem Garten schaffen; die Erde gießen, "
      "nicht die Blätter. Ob Sporen in der Luft sind, ist nicht bekannt.");
}

TEST_CASE("a period of several days is told once") {
  July july;
  fill_days(*july.yard, 9, 9);
  const Garden settings = hochfeld();
  Store store = Store::in_memory();
  Keeper keeper{settings, july.garden.zone, store, [](LogLevel, const std::string&) {}};
  Instant now = at("2026-07-11T07:00:00Z");
  const auto look_until = [&](std::string_view until) {
    for (; now < at(until); now += 10min) {
      Changes changes;
      keeper.look(july.garden.look(now), changes);
      changes.now = now;
      store.commit(changes);
    }
    return store.open_notices().size();
  };
  CHECK(look_until("2026-07-11T08:00:00Z") == 1);
  july.yard->fill("2026-07-11T07:00:00Z", "2026-07-12T07:00:00Z", 12, 95);
  CHECK(look_until("2026-07-12T09:00:00Z") == 1);
  july.yard->fill("2026-07-12T07:00:00Z", "2026-07-13T07:00:00Z", 18, 60);
  CHECK(look_until("2026-07-14T07:00:00Z") == 1);
  CHECK(look_until("2026-07-14T08:20:00Z") == 0);
  CHECK(store.latest_notices(10).size() == 1);
  CHECK(store.latest_notices(10).front().revision == 1);
}
