#include <doctest/doctest.h>

#include "daemon/notice/keeper.h"
#include "tests/daemon/notice/hours_garden.h"

using namespace rimeward;
using namespace rimeward::testing;
using namespace std::chrono_literals;
using std::chrono::sys_days;

namespace {

constexpr sys_days kSown{2026y / 3 / 20};

// Chillies in the glasshouse, sown on 20 March; it is 13 April.
struct Sown {
  HoursGarden garden;

  explicit Sown(const std::string& id = "chillies", Crop crop = chilli()) {
    const HoursPlace& house =
        garden.add("glasshouse", "Glasshouse", PlaceKind::kGreenhouse);
    garden.sow(id, std::move(crop), kSown, house.place);
  }

  // Every hour since the sowing, 24 days and 9 hours by 08:00 UTC, has a reading, less
  // those that are missing.
  std::vector<Finding> find(const std::vector<double>& degree_days, int missing = 0,
                            std::string_view now = "2026-04-13T08:00:00Z") {
    HoursGarden::warm(garden.batches.front(), degree_days, 585 - missing);
    return find_due(garden.look(now));
  }
};

std::string title_of_stage(const std::string& stage) {
  Crop crop = chilli();
  crop.stages = {{.name = stage, .heat_sum = 90, .base = Celsius{8}}};
  return Sown("chillies", crop).find({90}).front().title;
}

}  // namespace

TEST_CASE("seedlings are due from the very heat sum of their emergence on") {
  Sown sown;
  CHECK(sown.find({85, 85}).empty());
  CHECK(state_of(sown.find({89.99, 89.99})) == "lingers");
  const auto findings = sown.find({90, 90});
  REQUIRE(findings.size() == 1);
  const Finding& finding = findings.front();
  CHECK(finding.holds);
  CHECK(finding.subject == "chillies/emergence");
  CHECK(finding.place == "glasshouse");
  CHECK(finding.title == "Look for chilli seedlings in the glasshouse");
  CHECK(finding.body ==
        "90 degree days above 8.0 °C since the sowing on Fri 2026-03-20, 24 days ago; 90 "
        "are usual for emergence. Seed, soil and depth make days of difference: a guide, "
        "not a promise.");
}

TEST_CASE("each stage asks for what is to be done then") {
  CHECK(title_of_stage("emergence") == "Look for chilli seedlings in the glasshouse");
  CHECK(title_of_stage("potting on") == "Pot on the chillies in the glasshouse");
  CHECK(title_of_stage("transplanting") == "Plant out the chillies in the glasshouse");
  CHECK(title_of_stage("planting out") == "Plant out the chillies in the glasshouse");
  CHECK(title_of_stage("first picking") ==
        "Look for a first picking of the chillies in the glasshouse");
  CHECK(title_of_stage("harvest") ==
        "Look whether the chillies in the glasshouse can be harvested");
  CHECK(title_of_stage("flowering") ==
        "Look whether the chillies in the glasshouse reached flowering");
}

TEST_CASE("a batch is called by its crop, and by its id where that says more") {
  CHECK(Sown("Chillies").find({220, 220}).front().title ==
        "Pot on the chillies in the glasshouse");
  CHECK(Sown("window-sill").find({220, 220}).front().title ==
        "Pot on the chillies (window-sill) in the glasshouse");
}

TEST_CASE("a stage is past when the next is reached, or with half as much again") {
  Sown sown;
  CHECK(state_of(sown.find({134.9, 134.9})) == "holds");
  CHECK(sown.find({135, 135}).empty());
  CHECK(sown.find({120, 200}).size() == 1);
  CHECK(sown.find({120, 200}).front().subject == "chillies/potting on");
  CHECK(sown.find({299, 299}).front().holds);
  CHECK(sown.find({300, 300}).empty());
}

TEST_CASE("a stage that is counted from another is not due before that one") {
  Crop crop = chilli();
  crop.stages[1].after = "emergence";
  crop.stages[1].heat_sum = 60;
  Sown sown("chillies", crop);
  CHECK(sown.find({80, 60}).empty());
  const auto findings = sown.find({100, 60});
  REQUIRE(findings.size() == 1);
  CHECK(findings.front().body.starts_with(
      "60 degree days above 8.0 °C since emergence; 60 are usual for potting on."));
}

TEST_CASE("nobody is sent to look for seedlings at night") {
  Sown sown;
  const auto state = [&](std::string_view now) {
    return state_of(sown.find({90, 90}, 0, now));
  };
  CHECK(state("2026-04-13T04:59:00Z") == "lingers");  // 06:59 by the clock
  CHECK(state("2026-04-13T05:00:00Z") == "holds");
  CHECK(state("2026-04-13T18:03:00Z") == "holds");
  CHECK(state("2026-04-13T18:04:00Z") == "lingers");  // sunset
}

TEST_CASE("many hours without a reading are told, few are not") {
  Sown sown;
  CHECK(sown.find({90, 90}, 29).front().body.find("no reading") == std::string::npos);
  CHECK(sown.find({90, 90}, 30)
            .front()
            .body.find("For 30 of these 585 hours there is no reading, and they count "
                       "for nothing: "
                       "it may be further on.") != std::string::npos);
}

TEST_CASE("a garden in Fahrenheit counts its degree days in Fahrenheit") {
  Sown sown;
  sown.garden.units = TemperatureUnit::kFahrenheit;
  CHECK(sown.find({95, 95}).front().body.starts_with(
      "171 degree days above 46.4 °F since the sowing on Fri 2026-03-20, 24 days ago; "
      "162 are usual for emergence."));
}

TEST_CASE("a batch whose place is not in the settings any more is due all the same") {
  Sown sown;
  sown.garden.batches.front().place = nullptr;
  CHECK(sown.find({90, 90}).front().title == "Look for chilli seedlings");
}

TEST_CASE("in German a stage is told in German, with a decimal comma") {
  Sown sown;
  HoursGarden::warm(sown.garden.batches.front(), {90, 90}, 585 - 30);
  Situation situation = sown.garden.look("2026-04-13T08:00:00Z");
  situation.wording = german(sown.garden.zone);
  const Finding finding = find_due(situation).front();
  CHECK(finding.title == "Glasshouse: nach Keimlingen sehen (chilli)");
  CHECK(finding.body ==
        "90 Gradtage über 8,0 °C seit der Aussaat am Fr, 20.3.2026 (24 Tage her); für "
        "Auflaufen sind 90 üblich. Für 30 dieser 585 Stunden fehlt ein Messwert, und sie "
        "zählen nicht: es kann weiter sein. Samen, Erde und Saattiefe machen Tage aus: "
        "ein Anhalt, kein Versprechen.");
  HoursGarden::warm(sown.garden.batches.front(), {220, 220}, 585);
  situation.batches = sown.garden.batches;
  CHECK(find_due(situation).front().title == "Glasshouse: chillies umtopfen");
  situation.batches.front().place = nullptr;
  CHECK(find_due(situation).front().title == "Chillies umtopfen");
}

TEST_CASE("a stage is told once, in the morning, and over when the next has come") {
  Sown sown;
  const Garden settings = hochfeld();
  Store store = Store::in_memory();
  Keeper keeper{settings, sown.garden.zone, store, [](LogLevel, const std::string&) {}};
  const auto look = [&](std::string_view now, double degree_days) {
    HoursGarden::warm(sown.garden.batches.front(), {degree_days, degree_days}, 600);
    Changes changes;
    keeper.look(sown.garden.look(now), changes);
    changes.now = at(now);
    store.commit(changes);
    return store.open_notices().size();
  };
  CHECK(look("2026-04-13T03:00:00Z", 90) == 0);
  CHECK(look("2026-04-13T05:00:00Z", 90.2) == 1);
  CHECK(look("2026-04-13T23:00:00Z", 95) == 1);
  CHECK(look("2026-04-14T06:00:00Z", 100) == 1);
  CHECK(store.latest_notices(10).size() == 1);
  CHECK(store.latest_notices(10).front().revision == 1);
  CHECK(look("2026-04-20T06:00:00Z", 140) == 1);  // far past: gone for an hour first
  CHECK(look("2026-04-20T07:00:00Z", 140.5) == 0);
  CHECK(look("2026-04-26T06:00:00Z", 200) == 1);
  CHECK(store.latest_notices(10).size() == 2);
}
