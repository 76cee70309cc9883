#include "daemon/app.h"

#include <algorithm>
#include <random>

#include <doctest/doctest.h>

#include "daemon/crops.h"
#include "daemon/notice/notice_json.h"
#include "tests/support/played.h"

using namespace rimeward;
using namespace rimeward::testing;
using namespace std::chrono_literals;

namespace {

const Zone kZone = berlin();

Garden garden_with_route() {
  Garden garden = hochfeld();
  RouteSettings route;
  route.kind = "mqtt";
  garden.routes = {route};
  return garden;
}

// All that a store holds of a garden's past, as text that can be compared.
std::string contents(const Store& store, const Garden& garden) {
  const auto first = std::chrono::sys_days{std::chrono::year{2026} / 1 / 1};
  const auto last = std::chrono::sys_days{std::chrono::year{2027} / 1 / 1};
  std::string text;
  store.each_reading(first, last, [&](const ReadingRow& row) {
    text += fmt::format("{} {} {}\n", format_utc(row.time), row.series, row.value);
  });
  for (const DoubtfulRow& row : store.doubtful(first, last)) {
    text += fmt::format("{} {} {} {}\n", format_utc(row.time), row.series, row.value,
                        row.reason);
  }
  for (const TallyRow& row : store.tallies()) {
    text += fmt::format("{} {} {} {} {}\n", row.sensor,
                        row.channel ? traits(*row.channel).name : "message",
                        traits(row.doubt).name, row.count, format_utc(row.last_at));
  }
  for (const FactRow& row : store.facts())
    text += fmt::format("{} {} {}\n", row.sensor, row.name, row.value);
  for (const HeardRow& row : store.heard())
    text += fmt::format("{} {} {}\n", row.topic, row.count, row.payload);
  for (const Place& place : garden.places) {
    for (const OutlookRow& row : store.outlooks(place.id, first, last)) {
      text += fmt::format("{} {} {} {} {} {} {} {}\n", place.id, row.moment,
                          format_utc(row.issued_at), row.low.degrees, row.low10.degrees,
                          row.spread_above, row.rests_on,
                          row.opinion.value_or(Celsius{-99}).degrees);
    }
    for (const NightRow& row : store.nights(place.id, first, last)) {
      text += fmt::format("{} {} {} {}\n", place.id, row.low ? row.low->degrees : -99.0,
                          row.layers.value_or(-1), row.lift);
    }
    for (const char* subject :
         {"outlook", "lift", "differences", "surprises", "opinion", "mornings"}) {
      text += store.learned(place.id, subject).value_or("none") + "\n";
    }
  }
  for (const NoticeRow& row : store.latest_notices(1000)) {
    text += notice_json(row, garden, kZone) + fmt::format(" {}\n", row.urgency);
  }
  for (const MatterRow& row : store.matters()) {
    text += fmt::format("{} {} {}\n", row.kind, row.subject, row.notice);
  }
  for (const OutboxRow& row : store.waiting_outbox()) {
    text += fmt::format("{} {} {} {}\n", row.id, row.notice, row.revision, row.event);
  }
  return text;
}

// Lettuce sown in the frame on the first day, and meant for the yard; the frame watered.
Store store_with_a_batch(const Garden& garden) {
  Store store = Store::in_memory();
  store.set_days(DayGrid(kZone, garden.day_starts));
  const auto sown = std::chrono::sys_days{std::chrono::year{2026} / 4 / 8};
  Changes changes;
  changes.batches["lettuce"] = {
      .id = "lettuce", .crop = "lettuce", .sown = sown, .next_place = "yard"};
  changes.stays.push_back({"lettuce", sown, "north-frame"});
  changes.waterings.push_back({"north-frame", Instant{sown}});
  changes.now = sown;
  store.commit(changes);
  return store;
}

// The garden's messages through one App from beginning to end.
std::string played_unbroken(const Garden& garden, const std::vector<Arrival>& arrivals) {
  Store store = store_with_a_batch(garden);
  App app(garden, kZone, store, {});
  for (const Arrival& arrival : arrivals)
    app.turn(arrival, arrival.at);
  app.turn(Stop{}, arrivals.back().at);
  app.commit();
  return contents(store, garden);
}

}  // namespace

TEST_CASE("the invented cold night earns its notices") {
  const Garden garden = hochfeld();
  Store store = Store::in_memory();
  App app(garden, kZone, store, {});
  for (const Arrival& arrival : invented_arrivals(6))
    app.turn(arrival, arrival.at);
  app.commit();
  const auto notices = store.latest_notices(100);
  const auto cover = std::ranges::find(notices, "cover", &NoticeRow::kind);
  REQUIRE(cover != notices.end());
  CHECK(cover->title == "Fleece the north frame tonight");
  CHECK(cover->subject == "north-frame");
  const auto silent = std::ranges::find(notices, "silent", &NoticeRow::kind);
  REQUIRE(silent != notices.end());
  CHECK(silent->subject == "yard-probe");
  CHECK(silent->state == NoticeState::kLapsed);
  CHECK(std::ranges::count(notices, "silent", &NoticeRow::kind) == 1);
}

TEST_CASE("killed and restarted anywhere, an App ends with the same rows to the letter") {
  Garden garden = garden_with_route();
  REQUIRE(add_crops(garden).empty());
  garden.places[0].keep_above.reset();
  garden.places[0].dry_after = KilopascalHours{10};
  auto arrivals = invented_arrivals(6);
  SUBCASE("with sound sensors") {}
  SUBCASE("with sensors that fail in every way") {
    arrivals = with_faults(std::move(arrivals));
  }
  const std::string unbroken = played_unbroken(garden, arrivals);
  REQUIRE(unbroken.size() > 10'000);
  for (const unsigned seed : {1U, 2U, 3U}) {
    CAPTURE(seed);
    std::mt19937 random(seed);
    const auto one_in = [&](unsigned n) { return random() % n == 0; };
    Store store = store_with_a_batch(garden);
    std::optional<App> app;
    app.emplace(garden, kZone, store, AppOptions{});
    int kills = 0;
    std::size_t next = 0;
    while (next < arrivals.size()) {
      app->turn(arrivals[next], arrivals[next].at);
      ++next;
      // A commit at any time, and at once for a notice, as the loop would.
      if (app->wants_commit() || one_in(13)) app->commit();
      if (!one_in(29)) continue;
      ++kills;
      app.emplace(garden, kZone, store, AppOptions{});
      next = app->committed_sequence();  // the spool's next is this index
    }
    app->turn(Stop{}, arrivals.back().at);
    app->commit();
    CHECK(kills > 20);
    CHECK(contents(store, garden) == unbroken);
  }
}

TEST_CASE("ticks between the messages change nothing") {
  const Garden garden = garden_with_route();
  const auto arrivals = invented_arrivals(6);
  Store store = store_with_a_batch(garden);
  App app(garden, kZone, store, {});
  for (const Arrival& arrival : arrivals) {
    for (auto early = 5min; early > 0min && app.now(); early -= 1min) {
      app.turn(Tick{}, arrival.at - early);
    }
    app.turn(arrival, arrival.at);
  }
  app.turn(Stop{}, arrivals.back().at);
  app.commit();
  CHECK(contents(store, garden) == played_unbroken(garden, arrivals));
}

TEST_CASE("a message of no sensor, or no reading, stores nothing and logs one line") {
  const Garden garden = hochfeld();
  Store store = Store::in_memory();
  std::vector<std::string> lines;
  App app(garden, kZone, store,
          {.log = [&](LogLevel, const std::string& line) { lines.push_back(line); }});
  Arrival stray;
  stray.at = at("2026-04-12T18:00:00Z");
  stray.topic = "garden/\x1b[31m/climate";
  stray.payload = "21.5";
  for (int i = 0; i < 100; ++i)
    app.turn(stray, stray.at);
  Arrival broken = stray;
  broken.topic = "garden/yard/climate";
  app.turn(broken, broken.at);
  app.commit();
  CHECK(store.reading_count() == 0);
  REQUIRE(lines.size() == 2);
  CHECK(lines[0] ==
        "message on \"garden/\\x1b[31m/climate\" not stored: no sensor of the garden has "
        "this topic");
  CHECK(lines[1].starts_with("message on \"garden/yard/climate\" not stored: "));
}

TEST_CASE("two values for one second: the first stands, another one is doubtful") {
  const Garden garden = hochfeld();
  Store store = Store::in_memory();
  App app(garden, kZone, store, {});
  Arrival arrival = invented_arrivals(1).front();
  app.turn(arrival, arrival.at);
  app.turn(arrival, arrival.at);
  arrival.payload = R"({"time":"2026-04-08T00:00:00Z","temperature":3.0})";
  app.turn(arrival, arrival.at);
  app.commit();
  CHECK(store.reading_count() == 2);  // temperature and humidity
  const auto doubtful =
      store.doubtful(at("2026-04-08T00:00:00Z"), at("2026-04-09T00:00:00Z"));
  REQUIRE(doubtful.size() == 1);
  CHECK(doubtful[0].value == 3.0);
  CHECK(doubtful[0].reason == "a second value for this second; 4.67 came first");
}

TEST_CASE("done on a cover notice puts on what it asks for, and uncover takes it off") {
  const Garden garden = hochfeld();
  Store store = Store::in_memory();
  App app(garden, kZone, store, {});
  std::optional<NoticeRow> cover;
  Instant now;
  for (const Arrival& arrival : invented_arrivals(6)) {
    app.turn(arrival, now = arrival.at);
    if (!app.wants_commit()) continue;
    app.commit();
    const auto open = store.open_notices();
    const auto found = std::ranges::find(open, "cover", &NoticeRow::kind);
    if (found == open.end()) continue;
    cover = *found;
    break;
  }
  REQUIRE(cover);
  app.turn(ActionRow{.id = 1, .at = now, .verb = "done", .notice = cover->id}, now);
  REQUIRE(app.wants_commit());
  app.commit();
  CHECK(store.notice(cover->id)->state == NoticeState::kDone);
  REQUIRE(store.covers().size() == 1);
  CHECK(store.covers()[0].layers == cover->layers);
  CHECK(app.last_action() == 1);
  app.turn(ActionRow{.id = 2, .at = now, .verb = "uncover", .place = "north-frame"}, now);
  app.commit();
  CHECK(store.covers()[0].layers == 0);
}

TEST_CASE("what was imported asks for an App made anew, once it is committed") {
  const Garden garden = hochfeld();
  Store store = Store::in_memory();
  App app(garden, kZone, store, {});
  const Instant now = at("2026-04-12T16:00:00Z");
  app.turn(Tick{}, now);
  app.commit();
  CHECK_FALSE(app.wants_to_start_over());
  ActionRow imported{.at = now, .verb = "import"};
  imported.id = store.add_action(imported);
  app.turn(imported, now);
  CHECK_FALSE(app.wants_to_start_over());
  CHECK(app.wants_commit());
  app.commit();
  CHECK(app.wants_to_start_over());
  const App next(garden, kZone, store, {});
  CHECK_FALSE(next.wants_to_start_over());
  CHECK(next.last_action() == imported.id);
}

TEST_CASE("the first sensor of the file that reports air speaks for its place") {
  Garden garden = hochfeld();
  Sensor spare = sensor_of("north-frame");
  spare.id = "spare";
  spare.topic = "garden/spare";
  garden.sensors.insert(garden.sensors.begin(), spare);  // first, but heard later
  Store store = Store::in_memory();
  App app(garden, kZone, store, {});
  for (Arrival arrival : invented_arrivals(5)) {
    app.turn(arrival, arrival.at);
    // Once heard, the spare is four degrees warmer: no frost for the frame.
    if (arrival.at < at("2026-04-09T00:00:00Z") ||
        arrival.topic.find("yard") != std::string::npos) {
      continue;
    }
    arrival.topic = "garden/spare";
    arrival.payload = fmt::format(R"({{"time":"{}","temperature":{:.2f}}})",
                                  format_utc(arrival.at - 7s),
                                  invented_air(arrival.at - 7s, "north-frame") + 4.0);
    app.turn(arrival, arrival.at);
  }
  app.commit();
  const auto nights =
      store.nights("north-frame", std::chrono::sys_days{std::chrono::year{2026} / 4 / 12},
                   std::chrono::sys_days{std::chrono::year{2026} / 4 / 12});
  REQUIRE(nights.size() == 1);
  REQUIRE(nights[0].low);
  CHECK(nights[0].low->degrees ==
        doctest::Approx(invented_air(at("2026-04-12T02:00:00Z"), "north-frame") + 4.0)
            .epsilon(0.2));
}

TEST_CASE("a clock that steps back never takes the garden's time back") {
  const Garden garden = hochfeld();
  Store store = Store::in_memory();
  App app(garden, kZone, store, {});
  app.turn(Tick{}, at("2026-04-12T18:00:00Z"));
  app.turn(Tick{}, at("2026-04-12T16:00:00Z"));
  CHECK(app.now() == at("2026-04-12T18:00:00Z"));
}

TEST_CASE("that the store fails is told while it fails, and changes nothing else") {
  const Garden garden = garden_with_route();
  const auto arrivals = invented_arrivals(2);
  const std::size_t half = arrivals.size() / 2;
  const Instant failed = arrivals[half].at;
  Store store = store_with_a_batch(garden);
  App app(garden, kZone, store, {});
  std::vector<std::string> told;
  const auto hear = [&] {
    for (const Parcel& parcel : app.take_due_deliveries()) {
      Delivered done{.route = parcel.route, .outbox = {}, .trouble = {}};
      for (const auto& [row, notice] : parcel.items) {
        if (notice.kind == "store") told.push_back(row.event + ": " + notice.title);
        done.outbox.push_back(row.id);
      }
      app.turn(done, *app.now());
    }
  };
  for (std::size_t i = 0; i < arrivals.size(); ++i) {
    app.turn(arrivals[i], arrivals[i].at);
    if (i == half) {
      app.turn(StoreState{StoreTrouble{.fault = StoreFault::kFull, .since = failed}},
               failed);
    }
    if (i == half + 20) {
      CHECK(app.tells_of_store());
      app.turn(StoreState{}, arrivals[i].at);
    }
    hear();  // without a commit: the store takes none
  }
  CHECK(told == std::vector<std::string>{"raised: The store takes no readings",
                                         "changed: The store takes readings again",
                                         "over: The store takes readings again"});
  CHECK_FALSE(app.tells_of_store());
  app.commit();
  const auto notices = store.latest_notices(100);
  CHECK(std::ranges::count(notices, "store", &NoticeRow::kind) == 1);
  CHECK(store.reading_count() > 0);
}
