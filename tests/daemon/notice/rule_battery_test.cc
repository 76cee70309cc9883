#include <doctest/doctest.h>

#include "daemon/notice/keeper.h"
#include "daemon/notice/rule.h"
#include "tests/support/situation.h"

using namespace rimeward;
using namespace rimeward::testing;
using namespace std::chrono_literals;

namespace {

struct Cells {
  Listening garden;

  Cells() { garden.add("north-frame-probe", 5min, "2026-04-12T12:00:00Z"); }

  Sensor& sensor() { return garden.sensors.front(); }

  void say(Channel channel, double value, std::string_view when) {
    garden.views.front().battery = {.channel = channel, .value = value, .at = at(when)};
  }

  std::vector<Finding> find() const {
    return find_battery(garden.look(at("2026-04-12T12:00:00Z")));
  }

  // "low", "lingers" or "" for a value.
  std::string volts(double value) { return state(Channel::kBatteryVoltage, value); }
  std::string percent(double value) { return state(Channel::kBatteryPercent, value); }

  std::string state(Channel channel, double value) {
    say(channel, value, "2026-04-12T11:55:00Z");
    const auto findings = find();
    if (findings.empty()) return "";
    return findings.front().holds ? "low" : "lingers";
  }
};

}  // namespace

TEST_CASE("a battery is low at 15 %, and no longer above 25 %") {
  Cells cells;
  CHECK(cells.percent(0) == "low");
  CHECK(cells.percent(15) == "low");
  CHECK(cells.percent(15.5) == "lingers");
  CHECK(cells.percent(25) == "lingers");
  CHECK(cells.percent(25.5).empty());
}

TEST_CASE("cells of 3 V are low at 2.4 V, and no longer above 2.5 V") {
  Cells cells;
  CHECK(cells.volts(2.4) == "low");
  CHECK(cells.volts(2.41) == "lingers");
  CHECK(cells.volts(2.5) == "lingers");
  CHECK(cells.volts(2.51).empty());
}

TEST_CASE("nothing is said of cells that cannot be of 3 V, but by battery_low") {
  Cells cells;
  CHECK(cells.volts(1.5).empty());
  cells.sensor().battery_low = 1.1;
  CHECK(cells.volts(1.1) == "low");
  CHECK(cells.volts(1.15) == "lingers");
  CHECK(cells.volts(1.5).empty());
}

TEST_CASE("battery_low of the settings is in the unit that the sensor reports") {
  Cells cells;
  cells.sensor().battery_low = 30;
  CHECK(cells.percent(30) == "low");
  CHECK(cells.percent(40) == "lingers");
  CHECK(cells.percent(41).empty());
  cells.sensor().battery_low = 3.3;
  CHECK(cells.volts(3.3) == "low");
}

TEST_CASE("what a battery said more than two days ago says nothing of it now") {
  Cells cells;
  cells.say(Channel::kBatteryPercent, 5, "2026-04-10T12:00:00Z");
  CHECK_FALSE(cells.find().empty());
  cells.say(Channel::kBatteryPercent, 5, "2026-04-10T11:59:59Z");
  CHECK(cells.find().empty());
}

TEST_CASE("nothing is said of a battery under a check, or of none") {
  Cells cells;
  CHECK(cells.find().empty());
  cells.say(Channel::kBatteryPercent, 5, "2026-04-12T11:55:00Z");
  cells.garden.views.front().being_checked = true;
  CHECK(cells.find().empty());
}

TEST_CASE("a low battery is told with its charge, what cold does to it and what to do") {
  Cells cells;
  cells.say(Channel::kBatteryVoltage, 2.35, "2026-04-12T11:55:00Z");
  const Finding finding = cells.find().front();
  CHECK(finding.subject == "north-frame-probe");
  CHECK(finding.place == "north-frame");
  CHECK(finding.title == "The battery of the sensor in the north frame is low");
  CHECK(finding.body ==
        "north-frame-probe said 2.35 V at 13:55 on Sun 2026-04-12. From 2.4 V down cells "
        "do not last much longer, least of all in the cold. Put in fresh ones when you "
        "next pass; until then its readings count as before. If its cells are of another "
        "kind, set its battery_low.");
  cells.sensor().battery_low = 2.5;
  CHECK(cells.find().front().body.ends_with("count as before."));
}

TEST_CASE("in German a low battery is told in German, with a decimal comma") {
  Cells cells;
  cells.say(Channel::kBatteryVoltage, 2.35, "2026-04-12T11:55:00Z");
  Situation situation = cells.garden.look(at("2026-04-12T12:00:00Z"));
  situation.wording = german(cells.garden.evening.zone);
  const Finding finding = find_battery(situation).front();
  CHECK(finding.title == "North frame: Batterie des Sensors ist schwach");
  CHECK(finding.body ==
        "north-frame-probe meldete 2,35 V um 13:55 Uhr am So, 12.4.2026. Ab 2,4 V "
        "abwärts halten Batterien nicht mehr lange, am wenigsten bei Kälte. Beim "
        "nächsten Gang frische einsetzen; bis dahin zählen die Messwerte wie zuvor. Sind "
        "es Batterien anderer Art, in den Einstellungen battery_low angeben.");
}

TEST_CASE(
    "a cold night's dip is no low battery; three hours of it are, until six after") {
  Cells cells;
  const Garden settings = hochfeld();
  Store store = Store::in_memory();
  Keeper keeper{settings, cells.garden.evening.zone, store,
                [](LogLevel, const std::string&) {}};
  Instant now = at("2026-04-12T00:00:00Z");
  const auto look_for = [&](std::chrono::minutes span, double volts) {
    for (const Instant end = now + span; now < end; now += 5min) {
      cells.garden.hear("north-frame-probe", now);
      cells.garden.views.front().battery = {
          .channel = Channel::kBatteryVoltage, .value = volts, .at = now};
      Changes changes;
      keeper.look(cells.garden.look(now), changes);
      changes.now = now;
      store.commit(changes);
    }
    return store.open_notices().size();
  };
  CHECK(look_for(170min, 2.38) == 0);
  CHECK(look_for(30min, 2.45) == 0);  // the sun is up
  CHECK(look_for(3h, 2.38) == 0);
  CHECK(look_for(5min, 2.38) == 1);
  CHECK(look_for(24h, 2.48) == 1);  // not charged, only warmer
  CHECK(look_for(6h, 3.1) == 1);
  CHECK(look_for(5min, 3.1) == 0);
  CHECK(store.latest_notices(10).size() == 1);
}
