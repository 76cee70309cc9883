// Batches, stays, waterings, and the hours of places, as the store keeps and tells them.

#include <algorithm>
#include <chrono>
#include <string>
#include <utility>
#include <vector>

#include <doctest/doctest.h>

#include "daemon/store/batch_json.h"
#include "daemon/store/place_hours.h"
#include "daemon/store/stays.h"
#include "tests/daemon/store/store_builders.h"
#include "tests/support/hochfeld.h"
#include "tests/support/scratch_folder.h"

using namespace rimeward;
using namespace rimeward::testing;
using namespace std::chrono_literals;
using std::chrono::sys_days;

namespace {

const sys_days kDay = std::chrono::year{2026} / 4 / 8;
constexpr Channel kAir = Channel::kAirTemperature;

BatchRow chillies() {
  return {.id = "chillies",
          .crop = "chilli",
          .sown = kDay - std::chrono::days{30},
          .count = 24,
          .next_place = "north-frame"};
}

}  // namespace

TEST_CASE("batches, stays and waterings come back as they were stored") {
  const ScratchFolder folder;
  const auto file = folder / "garden.db";
  BatchRow finished = chillies();
  finished.id = "basil";
  finished.finished = kDay;
  {
    Store store = Store::open(file, Store::Access::kReadWrite);
    Changes changes;
    changes.batches["chillies"] = chillies();
    changes.batches["basil"] = finished;
    changes.stays = {{"chillies", kDay + 9h, "north-frame"},
                     {"chillies", Instant{kDay}, "glasshouse"}};
    changes.waterings = {{"glasshouse", kDay + 8h}, {"glasshouse", kDay + 2h}};
    changes.now = kDay;
    store.commit(changes);
    store.commit(changes);  // twice is as once
  }
  const Store store = Store::open(file, Store::Access::kReadOnly);
  CHECK(store.batches() == std::vector<BatchRow>{finished, chillies()});
  CHECK(store.stays() == std::vector<StayRow>{{"chillies", Instant{kDay}, "glasshouse"},
                                              {"chillies", kDay + 9h, "north-frame"}});
  CHECK(store.waterings() == std::vector<WateringRow>{{"glasshouse", kDay + 8h}});
}

TEST_CASE("hours are told from what is summarised and from what is not, alike") {
  Store store = Store::in_memory();
  store.set_days(hochfeld_days());
  Changes changes;
  changes.series = {air_of(1, "yard")};
  changes.readings = {
      {kDay + 10min, 1, 4000}, {kDay + 50min, 1, 6000}, {kDay + 3h, 1, -2000}};
  const auto told = [&store] { return store.hours(1, Instant{kDay}, kDay + 24h); };
  std::vector<HourRow> open;
  changes.now = Instant{kDay};
  store.commit(changes);
  open = told();
  REQUIRE(open.size() == 2);
  CHECK(open[0].hour == Instant{kDay});
  CHECK(open[0].extremes.sum == 10000);
  CHECK(open[0].extremes.count == 2);
  CHECK(open[0].extremes.low_at == kDay + 10min);
  CHECK(open[1].hour == kDay + 3h);
  Changes later;
  later.now = kDay + 3h;  // the first hour is summarised, the last not
  store.commit(later);
  CHECK(told() == open);
  later.now = kDay + 20h;
  store.commit(later);
  CHECK(told() == open);
  CHECK(store.hours(1, kDay + 1h, kDay + 3h).empty());
}

TEST_CASE("the high of a day split at any instant is the larger of its parts") {
  Store store = Store::in_memory();
  Changes changes;
  changes.series = {air_of(1, "yard")};
  // A saw of 31 steps, so that highs stand anywhere in an hour.
  for (int i = 0; i < 24 * 12; ++i) {
    changes.readings.push_back({kDay + i * 5min, 1, (i * 37 % 31) * 500 - 4000});
  }
  changes.now = kDay + 24h;
  store.commit(changes);
  const auto whole = store.extremes(1, Instant{kDay}, kDay + 24h);
  REQUIRE(whole);
  for (auto split = 7min; split < 24h; split += 41min) {
    CAPTURE(split.count());
    const auto before = store.extremes(1, Instant{kDay}, kDay + split);
    const auto after = store.extremes(1, kDay + split, kDay + 24h);
    REQUIRE((before && after));
    CHECK(whole->high == std::max(before->high, after->high));
    CHECK(whole->low == std::min(before->low, after->low));
    CHECK(whole->sum == before->sum + after->sum);
    CHECK(whole->count == before->count + after->count);
  }
}

TEST_CASE("the hours of one channel are those among all, summarised or not") {
  Store store = Store::in_memory();
  store.set_days(hochfeld_days());
  Changes changes;
  const auto series = [](SeriesId id, const std::string& place, Channel channel) {
    return SeriesRow{.id = id, .sensor = place, .place = place, .channel = channel};
  };
  changes.series = {series(1, "yard", kAir), series(2, "yard", Channel::kHumidity),
                    series(3, "glasshouse", kAir)};
  for (auto at = 0min; at < 12h; at += 10min) {
    for (const SeriesId id : {1, 2, 3}) {
      changes.readings.push_back({kDay + at, id, 1000 * id + at.count()});
    }
  }
  changes.now = kDay + 11h + 55min;  // so that the last hour is under way
  store.commit(changes);
  std::vector<std::pair<SeriesId, HourRow>> expected;
  store.each_hour(kDay + 2h, kDay + 12h, [&](SeriesId id, const HourRow& row) {
    if (id != 2) expected.emplace_back(id, row);
  });
  std::vector<std::pair<SeriesId, HourRow>> found;
  store.each_hour_of(kAir, kDay + 2h, kDay + 12h, [&](SeriesId id, const HourRow& row) {
    found.emplace_back(id, row);
  });
  CHECK(expected.size() == 20);
  CHECK(found == expected);
}

TEST_CASE("of a place's sensors the first in the settings speaks, then those long gone") {
  Garden garden = hochfeld();
  Sensor second = sensor_of("yard");
  second.id = "yard-second";
  garden.sensors.push_back(second);
  Store store = Store::in_memory();
  Changes changes;
  const auto series = [](SeriesId id, const std::string& sensor) {
    return SeriesRow{.id = id, .sensor = sensor, .place = "yard", .channel = kAir};
  };
  changes.series = {series(1, "old-probe"), series(2, "older-probe"),
                    series(3, "yard-second"), series(4, "yard-probe")};
  changes.readings = {
      {kDay + 1min, 1, 1000},  {kDay + 1min, 2, 2000},   {kDay + 1min, 3, 3000},
      {kDay + 1min, 4, 4000},  {kDay + 61min, 1, 1000},  {kDay + 61min, 2, 2000},
      {kDay + 61min, 3, 3000}, {kDay + 121min, 1, 1000}, {kDay + 121min, 2, 2000}};
  changes.now = kDay + 5h;
  store.commit(changes);
  const HourBook book =
      place_hours(store, garden, garden.places[1], Instant{kDay}, kDay + 24h);
  CHECK(book.means(Instant{kDay}).air == 4000);
  CHECK(book.means(kDay + 1h).air == 3000);
  CHECK(book.means(kDay + 2h).air == 2000);  // the newer of those that are gone
  const std::vector<Instant> from{Instant{kDay}, Instant{kDay}};
  const auto all = all_place_hours(store, garden, from, kDay + 24h);
  REQUIRE(all.size() == 2);
  CHECK_FALSE(all[0].newest(kAir));
  for (int hour = 0; hour < 4; ++hour) {
    const Instant begins = kDay + std::chrono::hours{hour};
    CHECK(all[1].means(begins).air == book.means(begins).air);
  }
  const std::vector<const Place*> yard{&garden.places[1]};
  const auto air = air_hours(store, garden, yard, Instant{kDay}, kDay + 24h);
  REQUIRE(air.size() == 1);
  for (int hour = 0; hour < 4; ++hour) {
    const Instant begins = kDay + std::chrono::hours{hour};
    CHECK(air[0].means(begins).air == book.means(begins).air);
  }
  const std::vector<Instant> later{Instant{kDay}, kDay + 1h};
  const auto less = all_place_hours(store, garden, later, kDay + 24h);
  CHECK_FALSE(less[1].means(Instant{kDay}).air);
  CHECK(less[1].means(kDay + 1h).air == 3000);
}

TEST_CASE("what is said of a batch survives its way as JSON") {
  BatchWord word{.batch = chillies(), .place = "glasshouse", .since = kDay + 7h};
  CHECK(batch_from_json(batch_json(word)) == word);
  word.batch.finished = kDay;
  word.since.reset();
  word.place.clear();
  CHECK(batch_from_json(batch_json(word)) == word);
}

TEST_CASE("what is no word about a batch is refused with what is wrong") {
  const auto refusal = [](std::string_view text) {
    const auto read = batch_from_json(text);
    return read ? std::string("taken") : read.error().message;
  };
  CHECK(refusal("[") == "a word about a batch that is no JSON object");
  CHECK(refusal("{}") == "a word about a batch without its id");
  CHECK(refusal(R"({"batch":"kale"})") ==
        "a word about the batch \"kale\" without a fit sown");
  CHECK(refusal(R"({"batch":"kale","sown":20551,"count":-1})") ==
        "a word about the batch \"kale\" without a fit count");
  CHECK(refusal(R"({"batch":"kale","sown":20551,"count":1,"finished":"soon"})") ==
        "a word about the batch \"kale\" without a fit finished");
  CHECK(refusal(R"({"batch":"kale","sown":9e15,"count":1})") ==
        "a word about the batch \"kale\" without a fit sown");
}

TEST_CASE("a batch is hardened once it has stood its nights out of the greenhouse") {
  Garden garden = hochfeld();
  Place glasshouse;
  glasshouse.id = "glasshouse";
  glasshouse.kind = PlaceKind::kGreenhouse;
  garden.places.push_back(glasshouse);
  Crop crop;
  crop.hardening_nights = 7;
  const std::vector<StayRow> stays{{"kale", Instant{kDay}, "glasshouse"},
                                   {"kale", kDay + 20 * 24h, "north-frame"},
                                   {"kale", kDay + 24 * 24h, "glasshouse"},
                                   {"kale", kDay + 30 * 24h, "yard"}};
  const auto by = [&](Instant now) { return hardening_of(crop, stays, garden, now); };
  CHECK(by(kDay + 19 * 24h) == Hardening::kSoft);
  CHECK(by(kDay + 33 * 24h - 1s) == Hardening::kSoft);
  CHECK(by(kDay + 33 * 24h) == Hardening::kHardened);
}
