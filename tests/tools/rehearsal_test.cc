#include "tools/rehearsal.h"

#include <algorithm>
#include <cmath>

#include <doctest/doctest.h>

#include "tests/support/played.h"
#include "tests/support/shared_folder.h"

using namespace rimeward;
using namespace rimeward::testing;

namespace {

Garden garden_at(Position position, const char* zone) {
  Garden garden;
  garden.name = "Rehearsal";
  garden.position = position;
  garden.time_zone = zone;
  Place place;
  place.id = place.name = "station";
  place.kind = PlaceKind::kOutdoors;
  place.keep_above = Celsius{0};
  garden.places = {place};
  Sensor sensor = sensor_of("station");
  sensor.topic = "station";
  garden.sensors = {sensor};
  return garden;
}

}  // namespace

TEST_CASE("a rehearsal gives the outlooks and notices of the App it runs") {
  const Garden garden = hochfeld();
  const Zone zone = berlin();
  Rehearser rehearser(garden, zone, ClockSource::kSystem, std::nullopt);
  for (const Arrival& arrival : invented_arrivals(6))
    rehearser.feed(arrival);
  const Rehearsal rehearsal = rehearser.finish();
  CHECK(rehearsal.readings > 3'000);
  CHECK(rehearsal.outlooks.size() >= 2 * 4 * 4);
  CHECK(std::ranges::count(rehearsal.notices, "cover", &NoticeRow::kind) >= 1);
  for (const RehearsedOutlook& one : rehearsal.outlooks) {
    CAPTURE(name_of(one.outlook.moment));
    if (!one.came) continue;  // of the last night
    const double low =
        invented_air(std::chrono::sys_days{date_of_night(one.outlook.solar_day)} +
                         std::chrono::hours{2},
                     one.place);
    // The invented low comes at 02:00; the night's window ends soon after sunrise.
    CHECK(std::abs(one.came->degrees - low) < 3.0);
  }
}

TEST_CASE("scores on real weather are those that the method's own measurement gave") {
  const auto shared = shared_folder();
  if (!shared) {
    MESSAGE("left out: no folder of weather records here");
    return;
  }
  struct File {
    const char* name;
    Position position;
    const char* zone;
    PlaceKind kind;
    double errors[4];  // mean absolute, by moment, with the shipped prior
  };
  // As the executable specification of the method scores with the shipped priors. One
  // hour of nyc_jfk is about 24 degrees too low, and no longer believed: with it, as in
  // the specification, the errors are 1.5953, 1.5057, 1.2942 and 1.0019.
  const File files[] = {
      {"nyc_jfk",
       {40.6398, -73.7789},
       "America/New_York",
       PlaceKind::kOutdoors,
       {1.4672, 1.4058, 1.1955, 1.0019}},
      {"nyc_ewr",
       {40.6925, -74.1687},
       "America/New_York",
       PlaceKind::kOutdoors,
       {1.7703, 1.6252, 1.3762, 1.1614}},
      {"seoul",
       {37.571, 126.966},
       "Asia/Seoul",
       PlaceKind::kOutdoors,
       {1.6863, 1.6166, 1.2872, 1.0981}},
      {"ie_oak_park",
       {52.861, -6.915},
       "Europe/Dublin",
       PlaceKind::kOutdoors,
       {2.0704, 1.9486, 1.4756, 1.2876}},
      {"ie_markree",
       {54.175, -8.456},
       "Europe/Dublin",
       PlaceKind::kOutdoors,
       {2.2295, 2.1331, 1.5289, 1.2977}},
      {"ie_casement",
       {53.306, -6.439},
       "Europe/Dublin",
       PlaceKind::kOutdoors,
       {2.0085, 1.8682, 1.4439, 1.2428}},
      {"bj_huairou",
       {40.36, 116.63},
       "Asia/Shanghai",
       PlaceKind::kOutdoors,
       {1.8356, 1.8244, 1.4265, 1.2149}},
      {"belgium_t6",
       {50.47, 4.45},
       "Europe/Brussels",
       PlaceKind::kOutdoors,
       {1.9860, 1.8606, 1.1890, 0.9889}},
      {"tunnel_it1",
       {45.4, 11.6},
       "Europe/Rome",
       PlaceKind::kPolytunnel,
       {1.8857, 1.7686, 1.2810, 1.0880}},
  };
  for (const File& file : files) {
    CAPTURE(file.name);
    Garden garden = garden_at(file.position, file.zone);
    garden.places[0].kind = file.kind;
    const Zone zone = Zone::named(file.zone).value();
    Rehearser rehearser(garden, zone, ClockSource::kReadings, std::nullopt);
    auto recorded =
        RecordedFile::open(*shared / "data" / (std::string(file.name) + ".csv"));
    REQUIRE(recorded);
    while (true) {
      const auto reading = recorded->next();
      REQUIRE(reading);
      if (!*reading) break;
      rehearser.feed(**reading, "station");
    }
    const auto scores =
        scores_of(rehearser.finish(), "station", Celsius{0}, garden.places[0].act_at)
            .moments;
    REQUIRE(scores.size() == 4);
    for (std::size_t i = 0; i < 4; ++i) {
      CAPTURE(name_of(scores[i].moment));
      REQUIRE(scores[i].scores.mean_absolute_error);
      CHECK(std::abs(scores[i].scores.mean_absolute_error->degrees - file.errors[i]) <
            0.005);
    }
  }
}
