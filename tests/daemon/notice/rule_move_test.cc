#include <doctest/doctest.h>

#include "tests/daemon/notice/hours_garden.h"

using namespace rimeward;
using namespace rimeward::testing;
using namespace std::chrono_literals;
using std::chrono::sys_days;

namespace {

constexpr sys_days kMorning{2026y / 4 / 13};
const std::vector<double> kMild{9.1, 8.4, 7.9, 10.2, 11.0, 8.8, 7.3};

// Chillies in the glasshouse that are to go to the north frame, on the afternoon of 13
// April; chillies must keep above 7 and ask for seven nights.
struct Moving {
  HoursGarden garden;
  HoursPlace* frame = nullptr;

  explicit Moving(const std::vector<double>& lows = kMild) {
    const HoursPlace& house =
        garden.add("glasshouse", "Glasshouse", PlaceKind::kGreenhouse);
    frame = &garden.add("north-frame", "North frame", PlaceKind::kFrame);
    frame->lows(kMorning, lows);
    garden.sow("chillies", chilli(), 2026y / 3 / 1, house.place).next = &frame->place;
  }

  void forecast(double low, double spread = 1.0) {
    frame->outlooks.push_back({.place = "north-frame",
                               .night = kMorning + std::chrono::days{1},
                               .issued_at = at("2026-04-13T14:23:00Z"),
                               .sunset = garden.night.sunset,
                               .sunrise = garden.night.sunrise,
                               .low = Celsius{low},
                               .low10 = Celsius{low - 1.2816 * spread},
                               .low90 = Celsius{low + 1.2816 * spread},
                               .spread_below = spread,
                               .spread_above = spread});
  }

  std::vector<Finding> find(std::string_view now = "2026-04-13T14:25:00Z") const {
    return find_move(garden.look(now));
  }
};

std::string state_with(const std::vector<double>& lows, double tonight) {
  Moving moving(lows);
  moving.forecast(tonight);
  return state_of(moving.find());
}

}  // namespace

TEST_CASE("seven mild nights and a mild outlook let a batch move, with all the numbers") {
  Moving moving;
  moving.forecast(9.0);
  const auto findings = moving.find();
  REQUIRE(findings.size() == 1);
  const Finding& finding = findings.front();
  CHECK(finding.holds);
  CHECK(finding.subject == "chillies");
  CHECK(finding.place == "north-frame");
  CHECK(finding.send_until == moving.garden.night.sunset);
  CHECK(finding.title == "The chillies can move to the north frame");
  // Odds below 7.0 are Phi(-2) = 0.023.
  CHECK(
      finding.body ==
      "Lowest of the last 7 nights there: 7.3 °C, on Mon 2026-04-13; chillies should "
      "stay above 7.0 °C. Tonight 9.0 °C expected, 8 nights in 10 from 7.7 °C to 10.3 "
      "°C; odds 2 % of going below 7.0 °C. Outlook at 16:23; a forecast, not a promise. "
      "Move before dusk and shut it for the first nights.");
}

TEST_CASE("a night at keep-above holds, one half a degree colder lingers, less is well") {
  CHECK(state_with({9, 9, 7.0, 9, 9, 9, 9}, 10) == "holds");
  CHECK(state_with({9, 9, 6.9, 9, 9, 9, 9}, 10) == "lingers");
  CHECK(state_with({9, 9, 6.5, 9, 9, 9, 9}, 10) == "lingers");
  CHECK(state_with({9, 9, 6.4, 9, 9, 9, 9}, 10).empty());
}

TEST_CASE(
    "tonight's odds must be under the place's limit, and half a degree keeps open") {
  // Phi(-0.85) = 0.198, under 0.2; Phi(-0.84) = 0.2005.
  CHECK(state_with(kMild, 7.85) == "holds");
  CHECK(state_with(kMild, 7.84) == "lingers");
  CHECK(state_with(kMild, 7.35) == "lingers");
  CHECK(state_with(kMild, 7.34).empty());
}

TEST_CASE(
    "without tonight's outlook nothing is raised, and an open notice says to wait") {
  const Moving moving;
  const auto findings = moving.find("2026-04-13T10:00:00Z");
  CHECK(state_of(findings) == "lingers");
  CHECK(findings.front().body.find("still to come: wait for it") != std::string::npos);
}

TEST_CASE("too few nights, one without a low, a gap or old ones are no hardening") {
  CHECK(state_with({9, 9, 9, 9, 9, 9}, 10).empty());
  Moving moving;
  moving.forecast(10);
  CHECK(state_of(moving.find()) == "holds");
  SUBCASE("without a low") {
    moving.frame->nights[3].low.reset();
  }
  SUBCASE("a gap") {
    moving.frame->nights.erase(moving.frame->nights.begin() + 3);
    moving.frame->nights.insert(
        moving.frame->nights.begin(),
        {.night = kMorning - std::chrono::days{7}, .low = Celsius{9}});
  }
  SUBCASE("old ones") {
    for (NightRow& row : moving.frame->nights)
      row.night -= std::chrono::days{1};
  }
  CHECK(moving.find().empty());
}

TEST_CASE("older nights than the crop asks for do not count") {
  CHECK(state_with({-3, 9, 9, 9, 9, 9, 9, 9}, 10) == "holds");
}

TEST_CASE("a crop that asks for no nights looks at the outlook alone") {
  Moving moving(std::vector<double>{});
  moving.garden.crops.front().hardening_nights = 0;
  moving.forecast(10);
  CHECK(state_of(moving.find()) == "holds");
  CHECK(moving.find().front().body.starts_with("It asks for no nights of hardening."));
}

TEST_CASE("a crop that asks for more nights than are kept is answered from those") {
  Moving moving(std::vector<double>(21, 9.0));
  moving.garden.crops.front().hardening_nights = 30;
  moving.forecast(10);
  CHECK(state_of(moving.find()) == "holds");
  moving.frame->nights.erase(moving.frame->nights.begin());
  CHECK(moving.find().empty());
}

TEST_CASE("a hardened batch may go where a soft one may not") {
  Moving moving(std::vector<double>(7, -3.0));
  Crop& kale = moving.garden.crops.front();
  kale.tenderness = Tenderness::kHardy;
  kale.keep_above.reset();
  kale.unhardened.killing = Celsius{-3};
  kale.hardened.killing = Celsius{-10};
  moving.forecast(-1);
  CHECK(moving.find().empty());
  moving.garden.batches.front().hardening = Hardening::kHardened;
  CHECK(state_of(moving.find()) == "holds");
}

TEST_CASE("nobody carries plants about after sunset, or when tonight is cold already") {
  Moving moving;
  moving.forecast(9.0);
  CHECK(state_of(moving.find("2026-04-13T18:03:00Z")) == "holds");
  CHECK(state_of(moving.find("2026-04-13T18:04:00Z")) == "lingers");
  moving.frame->recents.air.insert(at("2026-04-13T22:00:00Z"), 6.4);
  CHECK(moving.find("2026-04-13T22:05:00Z").empty());
}

TEST_CASE("a batch with nowhere to go, or that is there, has nothing to move") {
  Moving moving;
  moving.forecast(9.0);
  moving.garden.batches.front().place = &moving.frame->place;
  CHECK(moving.find().empty());
  moving.garden.batches.front().next = nullptr;
  CHECK(moving.find().empty());
}

TEST_CASE("what is said of covers is what the place has") {
  Moving moving;
  moving.forecast(9.0);
  moving.frame->place.kind = PlaceKind::kBed;
  CHECK(
      moving.find().front().body.ends_with("keep fleece at hand for the first nights."));
  moving.frame->place.fleece_layers = 0;
  CHECK(moving.find().front().body.ends_with("be ready to bring them back in."));
}

TEST_CASE("in German a batch can move, with a decimal comma and the date") {
  Moving moving;
  moving.forecast(9.0);
  Situation situation = moving.garden.look("2026-04-13T14:25:00Z");
  situation.wording = german(moving.garden.zone);
  const Finding finding = find_move(situation).front();
  CHECK(finding.title == "chillies: Umzug möglich, Ziel North frame");
  CHECK(
      finding.body ==
      "Tiefster Wert der letzten 7 Nächte dort: 7,3 °C, am Mo, 13.4.2026; chillies "
      "sollen über 7,0 °C bleiben. Heute Nacht 9,0 °C erwartet, in 8 von 10 Nächten 7,7 "
      "°C bis 10,3 °C; mit 2 % Wahrscheinlichkeit unter 7,0 °C. Ausblick von 16:23 Uhr; "
      "eine Vorhersage, kein Versprechen. Vor der Dämmerung umziehen und die ersten "
      "Nächte geschlossen halten.");
}
