// What must not change the notices: a restart at each of them, the order of the places in
// the settings, and the date, as far as the sun lets it.

#include <algorithm>
#include <cmath>
#include <functional>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "daemon/app.h"
#include "tests/support/played.h"
#include "tests/support/shared_folder.h"
#include "tools/recorded.h"

using namespace rimeward;
using namespace rimeward::testing;
using namespace std::chrono_literals;

namespace {

const Zone kZone = berlin();

// A bed besides, which needs less, and a route that gets everything.
Garden garden_of_three() {
  Garden garden = hochfeld();
  Place bed = north_frame();
  bed.id = "pea-bed";
  bed.name = "Pea bed";
  bed.kind = PlaceKind::kBed;
  bed.keep_above = Celsius{-1.0};
  bed.fleece_layers = 1;
  garden.places.push_back(bed);
  garden.sensors.push_back(sensor_of("pea-bed"));
  garden.routes.resize(1);
  garden.routes.front().kind = "command";
  return garden;
}

std::vector<Arrival> with_the_bed(std::vector<Arrival> arrivals) {
  std::vector<Arrival> all;
  for (Arrival& arrival : arrivals) {
    Arrival bed = arrival;
    all.push_back(std::move(arrival));
    if (!bed.topic.ends_with("yard/climate")) continue;
    bed.topic = "garden/pea-bed/climate";
    all.push_back(std::move(bed));
  }
  for (std::size_t i = 0; i < all.size(); ++i)
    all[i].sequence = i + 1;
  return all;
}

// What people were told, without the numbers that count rows.
std::string told(const NoticeRow& row) {
  const auto time = [](std::optional<Instant> at) { return at ? format_utc(*at) : "-"; };
  return fmt::format("{} {} {} {} {} {} {} {} {} {} {}\n", row.kind, row.subject,
                     name_of(row.state), time(row.raised_at), time(row.spoke_at),
                     time(row.deadline), time(row.closed_at), time(row.reminded_at),
                     row.revision, row.title, row.body);
}

std::vector<NoticeRow> oldest_first(const Store& store) {
  auto notices = store.latest_notices(10'000);
  std::ranges::reverse(notices);
  return notices;
}

// Carries out what is due at once, as a courier that never fails.
void deliver(App& app, Instant now) {
  for (const Parcel& parcel : app.take_due_deliveries()) {
    Delivered done{.route = parcel.route,
                   .outbox = {},
                   .outcome = Delivered::Outcome::kDone,
                   .trouble = {}};
    for (const Parcel::Item& item : parcel.items)
      done.outbox.push_back(item.row.id);
    app.turn(done, now);
  }
}

enum class Restarts { kNever, kAtEachNotice };

struct Played {
  std::vector<NoticeRow> notices;
  int restarts = 0;
};

Played played(const Garden& garden, const Zone& zone,
              const std::vector<Arrival>& arrivals,
              Restarts restarts = Restarts::kNever) {
  Store store = Store::in_memory();
  std::optional<App> app{std::in_place, garden, zone, store, AppOptions{}};
  Played result;
  for (const Arrival& arrival : arrivals) {
    app->turn(arrival, arrival.at);
    while (app->wants_commit()) {
      app->commit();
      if (restarts == Restarts::kAtEachNotice) {
        // Once before what is due has been handed over, and once after.
        app.emplace(garden, zone, store, AppOptions{});
        deliver(*app, arrival.at);
        if (app->wants_commit()) app->commit();
        app.emplace(garden, zone, store, AppOptions{});
        ++result.restarts;
      } else {
        deliver(*app, arrival.at);
      }
    }
  }
  app->turn(Stop{}, arrivals.back().at);
  app->commit();
  result.notices = oldest_first(store);
  return result;
}

std::string all_told(const std::vector<NoticeRow>& notices) {
  std::string text;
  for (const NoticeRow& row : notices)
    text += fmt::format("{} ", row.id) + told(row);
  return text;
}

// Recorded weather of one place as messages of its sensor.
std::vector<Arrival> recorded_arrivals(const std::filesystem::path& file, Instant from,
                                       Instant to) {
  auto recorded = RecordedFile::open(file);
  REQUIRE(recorded.has_value());
  std::vector<Arrival> arrivals;
  while (true) {
    const auto reading = recorded->next();
    REQUIRE(reading.has_value());
    if (!*reading || (*reading)->time >= to) return arrivals;
    if ((*reading)->time < from) continue;
    for (const char* place : {"north-frame", "yard"}) {
      Arrival& arrival = arrivals.emplace_back();
      arrival.sequence = arrivals.size();
      arrival.at = (*reading)->time + 5s;
      arrival.topic = fmt::format("garden/{}/climate", place);
      arrival.payload = payload_of(**reading);
      arrival.payload_bytes = arrival.payload.size();
    }
  }
}

}  // namespace

TEST_CASE("restarted at every notice, an App tells the same, with the same numbers") {
  const Garden garden = garden_of_three();
  const auto arrivals = with_the_bed(invented_arrivals(7));
  const Played unbroken = played(garden, kZone, arrivals);
  REQUIRE(unbroken.notices.size() > 5);
  const Played broken = played(garden, kZone, arrivals, Restarts::kAtEachNotice);
  CHECK(broken.restarts > 10);
  CHECK(all_told(broken.notices) == all_told(unbroken.notices));
}

TEST_CASE(
    "restarted at every notice of a spring on real weather, an App tells the same") {
  const auto shared = shared_folder();
  if (!shared) {
    MESSAGE("left out: no folder of weather records here");
    return;
  }
  Garden garden = hochfeld();
  garden.position = {53.5158, -6.66};
  garden.routes.resize(1);
  garden.routes.front().kind = "command";
  const Zone dublin = Zone::named("Europe/Dublin").value();
  const auto arrivals =
      recorded_arrivals(*shared / "data/ie_dunsany.csv", at("2017-03-15T00:00:00Z"),
                        at("2017-05-25T00:00:00Z"));
  REQUIRE(arrivals.size() > 3'000);
  const Played unbroken = played(garden, dublin, arrivals);
  REQUIRE(unbroken.notices.size() > 20);
  const Played broken = played(garden, dublin, arrivals, Restarts::kAtEachNotice);
  CHECK(broken.restarts > 50);
  CHECK(all_told(broken.notices) == all_told(unbroken.notices));
}

TEST_CASE("the order of places and sensors in the settings changes no notice") {
  const Garden garden = garden_of_three();
  const auto arrivals = with_the_bed(invented_arrivals(7));
  const std::string as_written = all_told(played(garden, kZone, arrivals).notices);
  Garden shuffled = garden;
  while (std::ranges::next_permutation(shuffled.places, {}, &Place::id).found) {
    std::ranges::reverse(shuffled.sensors);
    CHECK(all_told(played(shuffled, kZone, arrivals).notices) == as_written);
  }
}

TEST_CASE("a week later in summer time the notices are the same but for their dates") {
  // About the solstice, where the sun's own times shift by less than two minutes: what
  // follows the sunset to the minute may move to the next of the steps of five minutes.
  const Garden garden = hochfeld();
  const auto in_week = [&](Instant start) {
    std::vector<Arrival> arrivals = invented_arrivals(7);
    for (Arrival& arrival : arrivals) {
      const Instant measured = arrival.at - 7s;
      const std::string place =
          garden.sensors[arrival.topic.find("yard") != std::string::npos].place;
      const double air = invented_air(measured, place);
      arrival.at += start - at("2026-04-08T00:00:00Z");
      arrival.payload =
          fmt::format(R"({{"time":"{}","temperature":{:.2f},"humidity":{:.1f}}})",
                      format_utc(arrival.at - 7s), air, 75.0 - air);
      arrival.payload_bytes = arrival.payload.size();
    }
    return played(garden, kZone, arrivals).notices;
  };
  const auto first = in_week(at("2026-06-14T00:00:00Z"));
  const auto second = in_week(at("2026-06-21T00:00:00Z"));
  REQUIRE(first.size() > 3);
  REQUIRE(second.size() == first.size());
  for (std::size_t i = 0; i < first.size(); ++i) {
    CAPTURE(first[i].title);
    CHECK(second[i].kind == first[i].kind);
    CHECK(second[i].subject == first[i].subject);
    CHECK(second[i].title == first[i].title);
    CHECK(second[i].layers == first[i].layers);
    CHECK(second[i].revision == first[i].revision);
    CHECK(second[i].state == first[i].state);
    const auto shifted = second[i].raised_at - std::chrono::days{7} - first[i].raised_at;
    CHECK(std::abs(shifted.count()) <= 300);
    REQUIRE(second[i].deadline.has_value() == first[i].deadline.has_value());
    if (!first[i].deadline) continue;
    const auto later = *second[i].deadline - std::chrono::days{7} - *first[i].deadline;
    CHECK(std::abs(later.count()) <= 300);
  }
}
