#include "daemon/store/highs_and_lows.h"

#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "tests/daemon/store/store_builders.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;
using std::chrono::days;
using std::chrono::sys_days;
using std::chrono::year;

constexpr sys_days kDay{year{2026} / 4 / 11};
constexpr SeriesId kOld = 1;
constexpr SeriesId kNew = 2;

class TwoPlaces {
 public:
  TwoPlaces() {
    garden_.places.resize(2);
    garden_.places[0].id = "yard";
    garden_.places[1].id = "north-frame";
    garden_.sensors.resize(1);
    garden_.sensors[0].id = "new-probe";
    garden_.sensors[0].place = "yard";
    store_.set_days(hochfeld_days());
    changes_.series = {{kOld, "old-probe", "yard", Channel::kAirTemperature},
                       {kNew, "new-probe", "yard", Channel::kAirTemperature}};
    changes_.now = utc(kDay + days{5}, 12h);
  }

  // One reading in each of `hours` hours, from 09:30 of the garden's clock on `day` on:
  // falling from `high` in the first to `low` in the second, then between the two.
  void read(SeriesId series, sys_days day, int hours, double high, double low) {
    for (int hour = 0; hour < hours; ++hour) {
      const double air = hour == 0 ? high : hour == 1 ? low : (high + low) / 2;
      changes_.readings.push_back(
          {utc(day, 7h + 30min + hour * 1h), series, to_milli(air)});
    }
  }

  void note(NotedDayRow row) { changes_.noted_days.push_back(std::move(row)); }
  void now(Instant at) { changes_.now = at; }

  std::vector<HighsAndLows> known(sys_days from, sys_days to) {
    store_.commit(changes_);
    return highs_and_lows(store_, garden_, from, to, hochfeld_days());
  }
  // Of the yard.
  DayAndNight known_of(sys_days date) { return known(date, date).front()[date]; }

 private:
  Garden garden_;
  Store store_ = Store::in_memory();
  Changes changes_;
};

TEST_CASE("a low stands on the date on which its day ends, a high on that it begins") {
  TwoPlaces garden;
  garden.read(kNew, kDay, 24, 14.0, -2.0);
  const auto known = garden.known(kDay - days{2}, kDay + days{2});
  REQUIRE(known.size() == 2);
  CHECK(known[1].empty());
  REQUIRE(known[0].size() == 2);
  const DayAndNight& day = known[0].at(kDay);
  CHECK_FALSE(day.low);
  CHECK(day.high ==
        HighOrLow{.air = Celsius{14}, .at = utc(kDay, 7h + 30min), .hours = 24});
  const DayAndNight& night = known[0].at(kDay + days{1});
  CHECK(night.low ==
        HighOrLow{.air = Celsius{-2}, .at = utc(kDay, 8h + 30min), .hours = 24});
  CHECK_FALSE(night.high);
}

TEST_CASE("dates beside the span asked for are left out, its edges are not") {
  TwoPlaces garden;
  for (int n = 0; n < 4; ++n)
    garden.read(kNew, kDay + days{n}, 24, 10.0 + n, n);
  const auto known = garden.known(kDay + days{1}, kDay + days{2}).front();
  REQUIRE(known.size() == 2);
  CHECK(known.at(kDay + days{1}).low->air == Celsius{0});
  CHECK(known.at(kDay + days{2}).high->air == Celsius{12});
}

TEST_CASE("a sensor with the whole day speaks before the first, which has a part") {
  TwoPlaces garden;
  garden.read(kNew, kDay, 6, 9.0, 5.0);
  garden.read(kOld, kDay, 24, 14.0, -2.0);
  const DayAndNight day = garden.known_of(kDay);
  REQUIRE(day.high);
  CHECK(day.high->air == Celsius{14});
  CHECK(day.high->hours == 24);
}

TEST_CASE("a sensor that the settings no longer name tells of its days") {
  TwoPlaces garden;
  garden.read(kOld, kDay, 24, 14.0, -2.0);
  garden.read(kNew, kDay + days{1}, 24, 15.0, -1.0);
  const auto known = garden.known(kDay, kDay + days{1}).front();
  CHECK(known.at(kDay).high->air == Celsius{14});
  CHECK(known.at(kDay + days{1}).low->air == Celsius{-2});
  CHECK(known.at(kDay + days{1}).high->air == Celsius{15});
}

TEST_CASE("a note stands where nothing was read, with its time or without") {
  TwoPlaces garden;
  const Instant at = utc(kDay, 4h);
  garden.note({.date = kDay,
               .place = "yard",
               .low = to_milli(-3.5),
               .low_at = at,
               .high = to_milli(11.0)});
  const DayAndNight day = garden.known_of(kDay);
  CHECK(day.low ==
        HighOrLow{.air = Celsius{-3.5}, .at = at, .hours = 0, .is_noted = true});
  CHECK(day.high ==
        HighOrLow{.air = Celsius{11}, .at = {}, .hours = 0, .is_noted = true});
}

TEST_CASE("a whole day beats a note, and a note beats a part of a day") {
  for (const int hours : {19, 20}) {
    CAPTURE(hours);
    TwoPlaces garden;
    garden.read(kNew, kDay, hours, 14.0, -2.0);
    garden.note({.date = kDay, .place = "yard", .low = {}, .high = to_milli(15.0)});
    garden.note({.date = kDay + days{1}, .place = "yard", .low = to_milli(-2.5)});
    const auto known = garden.known(kDay, kDay + days{1}).front();
    const bool is_whole = hours == 20;
    CHECK(known.at(kDay).high->air == Celsius{is_whole ? 14.0 : 15.0});
    CHECK(known.at(kDay).high->is_noted == !is_whole);
    CHECK(known.at(kDay + days{1}).low->air == Celsius{is_whole ? -2.0 : -2.5});
    CHECK(known.at(kDay + days{1}).low->hours == (is_whole ? 20 : 0));
  }
}

TEST_CASE("a note of a low alone leaves the high to the readings") {
  TwoPlaces garden;
  garden.read(kNew, kDay, 8, 14.0, 9.0);
  garden.note({.date = kDay, .place = "yard", .low = to_milli(-2.5)});
  const DayAndNight day = garden.known_of(kDay);
  CHECK(day.low->is_noted);
  CHECK(day.high ==
        HighOrLow{.air = Celsius{14}, .at = utc(kDay, 7h + 30min), .hours = 8});
}

TEST_CASE("a day under way is told as far as it has gone") {
  TwoPlaces garden;
  garden.now(utc(kDay, 12h));
  garden.read(kNew, kDay, 4, 14.0, 9.0);
  const auto known = garden.known(kDay, kDay + days{1}).front();
  CHECK(known.at(kDay).high->hours == 4);
  CHECK(known.at(kDay + days{1}).low->air == Celsius{9});
}

TEST_CASE("notes of a place that is no longer in the settings are passed over") {
  TwoPlaces garden;
  garden.note({.date = kDay, .place = "old-bed", .low = to_milli(-3.5)});
  for (const HighsAndLows& place : garden.known(kDay, kDay))
    CHECK(place.empty());
}

}  // namespace
}  // namespace rimeward
