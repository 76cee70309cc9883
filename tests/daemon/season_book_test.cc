#include "daemon/season_book.h"

#include <chrono>
#include <vector>

#include <doctest/doctest.h>
#include <fmt/format.h>

#include "daemon/app.h"
#include "daemon/climate/degree_days.h"
#include "daemon/store/marks.h"
#include "tests/support/played.h"

using namespace rimeward;
using namespace rimeward::testing;
using namespace std::chrono_literals;
using std::chrono::sys_days;

namespace {

const Zone kZone = berlin();
const sys_days kFirst = std::chrono::year{2026} / 4 / 8;

// Kale comes up after 5 degree days above 4, and is transplanted 2 above 6 later.
CropTable crops() {
  Crop kale;
  kale.id = kale.name = "kale";
  kale.tenderness = Tenderness::kHardy;
  kale.base = Celsius{4};
  kale.hardening_nights = 2;
  kale.stages = {
      {.name = "emergence", .heat_sum = 5, .base = Celsius{4}},
      {.name = "transplanting", .heat_sum = 2, .base = Celsius{6}, .after = "emergence"}};
  Crop basil;
  basil.id = basil.name = "basil";
  basil.base = Celsius{10};
  basil.keep_above = Celsius{7};
  return CropTable({kale, basil});
}

// The frame's keep-above is left to what stands in it.
Garden garden_with_crops() {
  Garden garden = hochfeld();
  garden.crops = crops();
  garden.places[0].keep_above.reset();
  return garden;
}

ActionRow action(std::string verb, Instant when, const BatchWord& word) {
  return {.id = 1, .at = when, .verb = std::move(verb), .detail = batch_json(word)};
}

BatchWord sowing(const std::string& crop, const std::string& place) {
  return {.batch = {.id = crop, .crop = crop, .sown = kFirst},
          .place = place,
          .since = kZone.at(kFirst, 0min)};
}

struct Run {
  explicit Run(Garden of) : garden(std::move(of)), app(garden, kZone, store, {}) {}

  void play(const std::vector<Arrival>& arrivals) {
    for (const Arrival& arrival : arrivals) {
      app.turn(arrival, arrival.at);
      if (app.wants_commit()) app.commit();
    }
  }
  void say(const ActionRow& what) {
    app.turn(what, what.at);
    app.commit();
  }

  Garden garden;
  Store store = Store::in_memory();
  App app;
};

// What a book made on the store knows of the one batch.
BatchView described(const Run& run, const SeasonBook& book, Situation& situation) {
  for (const Place& place : run.garden.places) {
    situation.places.push_back({.place = &place, .night = {}, .tonight = {}});
  }
  book.describe(situation);
  REQUIRE(situation.batches.size() == 1);
  return situation.batches.front();
}

Situation empty_situation(const Run& run) {
  return {.now = run.app.now().value(),
          .wording = english(kZone),
          .zone = kZone,
          .advice = run.garden.advice,
          .places = {},
          .sensors = {}};
}

void ignore_log(LogLevel, const std::string&) {}

// By its definition, from the readings: each hour's mean above the base.
double degree_days_by_hand(const Store& store, Instant from, Instant to, double base) {
  double sum = 0;
  for (Instant hour = from; hour < to; hour += 1h) {
    double total = 0;
    int count = 0;
    store.each_reading(hour, hour + 1h, [&](const ReadingRow& row) {
      if (row.series != 1) return;
      total += from_milli(row.value);
      ++count;
    });
    if (count > 0) sum += std::max(0.0, total / count - base) / 24;
  }
  return sum;
}

}  // namespace

TEST_CASE(
    "a batch's warmth is that of its place since it was sown, however it is written") {
  Run run(garden_with_crops());
  const auto arrivals = invented_arrivals(4);
  std::size_t told_after = 0;
  SUBCASE("before the first reading") {}
  SUBCASE("two days later") {
    told_after = 600;
  }
  const auto middle = arrivals.begin() + static_cast<std::ptrdiff_t>(told_after);
  run.play({arrivals.begin(), middle});
  run.say(action("sow", middle->at, sowing("kale", "north-frame")));
  run.play({middle, arrivals.end()});
  run.app.turn(Stop{}, arrivals.back().at);
  run.app.commit();

  const SeasonBook book(run.garden, run.store, &ignore_log);
  Situation situation = empty_situation(run);
  const BatchView view = described(run, book, situation);
  CHECK(view.row->id == "kale");
  CHECK(view.place->id == "north-frame");
  REQUIRE(view.stages.size() == 2);
  const double by_hand =
      degree_days_by_hand(run.store, kZone.at(kFirst, 0min), arrivals.back().at, 4);
  // An hour's mean is held to a thousandth, so the sum of 96 may be off by 0.002.
  CHECK(degree_days(view.stages[0].warmth.amount).degree_days ==
        doctest::Approx(by_hand).epsilon(0.0005));
  CHECK(view.stages[0].warmth.hours == 4 * 24);
}

TEST_CASE("a stage counted from another begins when that is reached, live as anew") {
  Run run(garden_with_crops());
  const auto arrivals = invented_arrivals(4);
  run.app.turn(arrivals.front(), arrivals.front().at);
  run.say(action("sow", arrivals.front().at, sowing("kale", "north-frame")));
  run.play(arrivals);
  run.app.commit();
  const auto notices = run.store.latest_notices(100);
  std::vector<std::string> due;
  for (const NoticeRow& notice : notices) {
    if (notice.kind == "due") due.push_back(notice.subject);
  }
  // The newest first. Each is told once.
  CHECK(fmt::format("{}", fmt::join(due, " ")) == "kale/transplanting kale/emergence");
}

TEST_CASE("keep-above follows from who lives in a place, and is told to the terminal") {
  Run run(garden_with_crops());
  const auto mark = [&run] {
    return run.store.mark(std::string(kMarkKeepAbove) + "north-frame");
  };
  const auto arrivals = invented_arrivals(1);
  run.play(arrivals);
  run.app.commit();
  CHECK(mark() == 0);  // the usual one
  const Instant now = arrivals.back().at;
  run.say(action("sow", now, sowing("basil", "north-frame")));
  CHECK(mark() == 7000);
  BatchWord moved{.batch = {.id = "basil"}, .place = "yard", .since = now};
  run.say(action("move", now, moved));
  CHECK(mark() == 0);
  CHECK(run.store.mark(std::string(kMarkKeepAbove) + "yard") == 7000);
  BatchWord over{.batch = {.id = "basil", .finished = kFirst}};
  run.say(action("finish", now, over));
  CHECK(run.store.mark(std::string(kMarkKeepAbove) + "yard") == kNoKeepAbove);
}

TEST_CASE("what does not fit the batches is not taken, and nothing is lost by it") {
  Run run(garden_with_crops());
  const auto arrivals = invented_arrivals(1);
  run.play(arrivals);
  const Instant now = arrivals.back().at;
  run.say(action("sow", now, sowing("kale", "north-frame")));
  const auto batches = run.store.batches();
  const auto stays = run.store.stays();
  REQUIRE(batches.size() == 1);
  REQUIRE(stays.size() == 1);
  CHECK(stays.front().since == kZone.at(kFirst, 0min));

  run.say(action("sow", now, sowing("kale", "yard")));  // the id is taken
  run.say(
      action("move", now, {.batch = {.id = "nobody"}, .place = "yard", .since = now}));
  run.say(action("move", now,
                 {.batch = {.id = "kale"}, .place = "yard", .since = now - 48h}));
  run.say({.id = 2, .at = now, .verb = "sow", .detail = "{\"batch\":"});
  run.say({.id = 3, .at = now, .verb = "water", .place = "nowhere"});
  CHECK(run.store.batches() == batches);
  CHECK(run.store.stays() == stays);
  CHECK(run.store.waterings().empty());
}

TEST_CASE("drying is reckoned from the last watering") {
  Run run(garden_with_crops());
  const auto arrivals = invented_arrivals(3);
  const auto middle = arrivals.begin() + 500;
  run.play({arrivals.begin(), middle});
  run.say({.id = 1, .at = middle->at, .verb = "water", .place = "north-frame"});
  run.play({middle, arrivals.end()});
  run.app.commit();

  const SeasonBook book(run.garden, run.store, &ignore_log);
  Situation situation = empty_situation(run);
  for (const Place& place : run.garden.places) {
    situation.places.push_back({.place = &place, .night = {}, .tonight = {}});
  }
  book.describe(situation);
  REQUIRE(situation.places[0].dryness.has_value());
  CHECK(situation.places[0].dryness->since == middle->at);
  const auto hours = (arrivals.back().at - middle->at) / 1h;
  CHECK(situation.places[0].dryness->demand.hours == hours);
  CHECK(situation.places[0].dryness->demand.amount > 5'000);
  CHECK_FALSE(situation.places[1].dryness.has_value());
}
