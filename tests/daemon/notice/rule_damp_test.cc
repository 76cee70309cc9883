#include <doctest/doctest.h>

#include "daemon/notice/keeper.h"
#include "tests/daemon/notice/hours_garden.h"

using namespace rimeward;
using namespace rimeward::testing;
using namespace std::chrono_literals;

namespace {

// A glasshouse that was damp in the night to 13 April, and dry before; keep-above 5.
struct DampNight {
  HoursGarden garden;
  HoursPlace* house = nullptr;
  HoursPlace* yard = nullptr;

  explicit DampNight(double humidity = 92, double air = 12,
                     std::string_view from = "2026-04-12T20:00:00Z") {
    house = &garden.add("glasshouse", "Glasshouse", PlaceKind::kGreenhouse);
    house->place.keep_above = Celsius{5};
    house->fill("2026-04-12T10:00:00Z", from, 16, 60);
    house->fill(from, "2026-04-13T05:00:00Z", air, humidity);
    yard = &garden.add("yard", "Yard", PlaceKind::kOutdoors);
    yard->fill("2026-04-12T10:00:00Z", "2026-04-13T05:00:00Z", air, 95);
    outside(9.1);
  }

  void outside(double air) {
    yard->recents.air = {};
    yard->recents.air.insert(at("2026-04-13T05:00:00Z"), air);
  }

  std::vector<Finding> find(std::string_view now = "2026-04-13T05:05:00Z") const {
    return find_damp(garden.look(now));
  }
};

}  // namespace

TEST_CASE("nine damp hours up to seven in the morning ask for air, with the numbers") {
  const DampNight night;
  const auto findings = night.find();
  REQUIRE(findings.size() == 1);
  const Finding& finding = findings.front();
  CHECK(finding.holds);
  CHECK(finding.subject == "glasshouse");
  CHECK(finding.place == "glasshouse");
  CHECK(finding.title == "Air the glasshouse");
  CHECK(finding.body ==
        "9 hours in a row up to 07:00 were damp: humidity 90 % or more; 12.0 °C and 92 % "
        "in the last. Grey mould needs no more to start. Open it up now: it was 9.1 °C "
        "outside at 07:00, and its plants must keep above 5.0 °C. Give the plants room, "
        "take off dead leaves, and water in the morning, on the soil. Leaves are not "
        "measured: feel whether they are wet.");
}

TEST_CASE("six hours in a row hold, five do not") {
  CHECK(state_of(DampNight(92, 12, "2026-04-12T23:00:00Z").find()) == "holds");
  CHECK(DampNight(92, 12, "2026-04-13T00:00:00Z").find().empty());
}

TEST_CASE("humidity holds at the limit, lingers for 5 % below, and is well under that") {
  CHECK(state_of(DampNight(90).find()) == "holds");
  CHECK(state_of(DampNight(89.9).find()) == "lingers");
  CHECK(state_of(DampNight(85).find()) == "lingers");
  CHECK(DampNight(84.9).find().empty());
}

TEST_CASE("grey mould wants 10 to 25 degrees, and a degree more keeps a notice open") {
  CHECK(state_of(DampNight(92, 10).find()) == "holds");
  CHECK(state_of(DampNight(92, 9.9).find()) == "lingers");
  CHECK(DampNight(92, 8.9).find().empty());
  CHECK(state_of(DampNight(92, 25).find()) == "holds");
  CHECK(state_of(DampNight(92, 25.1).find()) == "lingers");
  CHECK(DampNight(92, 26.1).find().empty());
}

TEST_CASE("the limits are those of the settings") {
  DampNight night(86, 8);
  CHECK(night.find().empty());
  night.garden.advice.damp = {.humidity = RelativeHumidity{85},
                              .warmer_than = Celsius{6},
                              .cooler_than = Celsius{25},
                              .for_hours = 9h};
  CHECK(state_of(night.find()) == "holds");
  night.garden.advice.damp.for_hours = 10h;
  CHECK(night.find().empty());
}

TEST_CASE("water on the glass counts as damp where the air alone does not") {
  // At 14 degrees and 82 % the dew point is 11.0. Glass midway to 6 outside is at 10.
  DampNight night(82, 14);
  CHECK(night.find().empty());
  night.yard->hours = {};
  night.yard->fill("2026-04-12T18:00:00Z", "2026-04-13T05:00:00Z", 6, 95);
  const auto findings = night.find();
  CHECK(state_of(findings) == "holds");
  CHECK(findings.front().body.starts_with(
      "9 hours in a row up to 07:00 were damp: humidity 90 % or more, and in 9 of them "
      "by "
      "reckoning water on leaves or glass; 14.0 °C and 82 % in the last."));
}

TEST_CASE("what happens at night is told in the morning, also when it ended before") {
  DampNight night;
  CHECK(state_of(night.find("2026-04-13T04:55:00Z")) == "lingers");
  CHECK(state_of(night.find("2026-04-13T05:00:00Z")) == "holds");
  night.house->fill("2026-04-13T05:00:00Z", "2026-04-13T10:00:00Z", 18, 60);
  CHECK(state_of(night.find("2026-04-13T08:59:00Z")) == "holds");
  CHECK(night.find("2026-04-13T09:00:00Z").empty());
}

TEST_CASE("the hour under way is no whole hour yet") {
  DampNight night(92, 12, "2026-04-12T23:00:00Z");
  CHECK(night.find("2026-04-13T04:59:00Z").empty());
}

TEST_CASE("a short gap is bridged, a long one ends the run, silence says nothing") {
  DampNight night;
  night.house->hours = {};
  night.house->fill("2026-04-12T18:00:00Z", "2026-04-12T21:00:00Z", 12, 92);
  night.house->fill("2026-04-13T03:00:00Z", "2026-04-13T05:00:00Z", 12, 92);
  CHECK(state_of(night.find()) == "holds");  // 6 hours without a reading
  CHECK(night.find("2026-04-13T09:00:00Z").empty());
  night.house->hours = {};
  night.house->fill("2026-04-12T18:00:00Z", "2026-04-12T21:00:00Z", 12, 92);
  night.house->fill("2026-04-13T04:00:00Z", "2026-04-13T05:00:00Z", 12, 92);
  CHECK(night.find().empty());
  night.house->hours = {};
  night.house->fill("2026-04-12T18:00:00Z", "2026-04-13T05:00:00Z", 12, std::nullopt);
  CHECK(night.find().empty());
}

TEST_CASE("nobody is asked to open up to air that is too cold for the plants") {
  DampNight night;
  night.outside(5);
  CHECK(night.find().front().title == "Air the glasshouse");
  night.outside(4.9);
  const Finding cold = night.find().front();
  CHECK(cold.title == "Air the glasshouse once it is milder outside");
  CHECK(
      cold.body.find("Not yet: it was 4.9 °C outside at 07:00, too cold for plants that "
                     "must keep above 5.0 °C. Open it up later in the morning, once it "
                     "is milder.") != std::string::npos);
  night.house->fill("2026-04-13T05:00:00Z", "2026-04-13T15:00:00Z", 12, 92);
  night.yard->recents.air.insert(at("2026-04-13T15:00:00Z"), 3);
  CHECK(night.find("2026-04-13T15:05:00Z")
            .front()
            .body.find("Open it up tomorrow morning, once it is milder.") !=
        std::string::npos);
}

TEST_CASE("air outside that is not known is said to be so, and no plants need no care") {
  DampNight night;
  night.yard->recents.air = {};
  const Finding unknown = night.find().front();
  CHECK(unknown.title == "Air the glasshouse once it is milder outside");
  CHECK(unknown.body.find("Open it up once the air outside is above the 5.0 °C that its "
                          "plants must keep above; that air is not measured.") !=
        std::string::npos);
  night.house->place.keep_above.reset();
  CHECK(night.find().front().title == "Air the glasshouse");
  CHECK(night.find().front().body.find("Open it up now. Give") != std::string::npos);
}

TEST_CASE("open ground is never aired") {
  DampNight night;
  night.house->place.kind = PlaceKind::kBed;
  CHECK(night.find().empty());
}

TEST_CASE("a garden in Fahrenheit is told in Fahrenheit") {
  DampNight night;
  night.garden.units = TemperatureUnit::kFahrenheit;
  CHECK(night.find().front().body.find("53.6 °F and 92 % in the last") !=
        std::string::npos);
}

TEST_CASE("in German a damp place is told in German, with a decimal comma") {
  DampNight night;
  Situation situation = night.garden.look("2026-04-13T05:05:00Z");
  situation.wording = german(night.garden.zone);
  const Finding airy = find_damp(situation).front();
  CHECK(airy.title == "Glasshouse lüften");
  CHECK(airy.body ==
        "Bis 07:00 Uhr waren 9 Stunden nacheinander feucht: Luftfeuchte 90 % oder mehr; "
        "12,0 °C und 92 % in der letzten. Mehr braucht Grauschimmel nicht, um "
        "anzufangen. Jetzt öffnen: draußen waren es um 07:00 Uhr 9,1 °C, und die "
        "Pflanzen darin brauchen mehr als 5,0 °C. Den Pflanzen Platz geben, tote Blätter "
        "abnehmen, morgens und nur auf die Erde gießen. Blätter werden nicht gemessen: "
        "fühlen, ob sie nass sind.");
  night.outside(4.9);
  CHECK(find_damp(situation).front().title ==
        "Glasshouse lüften, sobald es draußen milder ist");
}

TEST_CASE("a run that is longer than it is followed back is told as the last hours") {
  DampNight night;
  night.house->fill("2026-04-13T05:00:00Z", "2026-04-15T05:00:00Z", 12, 92);
  CHECK(night.find("2026-04-15T05:05:00Z")
            .front()
            .body.starts_with("The last 48 hours in a row up to 07:00 were damp:"));
}

TEST_CASE("a further day without a break is a whole step of urgency") {
  DampNight night;
  const double first = night.find().front().urgency;
  night.house->fill("2026-04-13T05:00:00Z", "2026-04-14T05:00:00Z", 12, 92);
  CHECK(night.find("2026-04-14T05:05:00Z").front().urgency == doctest::Approx(first + 1));
}

TEST_CASE("a spell of damp nights is one notice, over on the second day after it") {
  DampNight night;
  const Garden settings = hochfeld();
  Store store = Store::in_memory();
  Keeper keeper{settings, night.garden.zone, store, [](LogLevel, const std::string&) {}};
  Instant now = at("2026-04-13T05:00:00Z");
  const auto look_until = [&](std::string_view until) {
    for (; now < at(until); now += 10min) {
      Changes changes;
      keeper.look(night.garden.look(now), changes);
      changes.now = now;
      store.commit(changes);
    }
    return store.open_notices().size();
  };
  CHECK(look_until("2026-04-13T05:30:00Z") == 0);
  CHECK(look_until("2026-04-13T05:40:00Z") == 1);
  night.house->fill("2026-04-13T05:00:00Z", "2026-04-13T22:00:00Z", 18, 60);
  night.house->fill("2026-04-13T22:00:00Z", "2026-04-14T05:00:00Z", 12, 92);
  night.house->fill("2026-04-14T05:00:00Z", "2026-04-15T20:00:00Z", 18, 60);
  CHECK(look_until("2026-04-15T10:00:00Z") == 1);
  CHECK(look_until("2026-04-15T13:00:00Z") == 0);
  CHECK(store.latest_notices(10).size() == 1);
  CHECK(store.latest_notices(10).front().revision == 1);
}
