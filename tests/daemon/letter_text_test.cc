// What letters say, to the letter.

#include <string>

#include <doctest/doctest.h>

#include "daemon/letters.h"
#include "daemon/store/marks.h"
#include "tests/daemon/letters_garden.h"

using namespace rimeward;
using namespace rimeward::testing;
using namespace std::chrono_literals;

namespace {

// The night to 12 April, over at 08:38 in the garden; nothing was heard of the pea bed.
LettersGarden cold_night() {
  LettersGarden garden;
  garden.night("north-frame", "2026-04-12", -0.44, "2026-04-12T04:10:00Z");
  garden.night("yard", "2026-04-12", -2.25, "2026-04-12T03:55:00Z");
  garden.expect("north-frame", "2026-04-12", 1, 2.9);
  garden.expect("north-frame", "2026-04-12", 2, 1.2);
  garden.expect("north-frame", "2026-04-12", 3, -0.3);
  garden.expect("yard", "2026-04-12", 2, -1.0);
  return garden;
}

// Seven days up to Sunday, 09:00, of the frame and the yard.
LettersGarden a_week() {
  LettersGarden garden;
  garden.read_days(1, "2026-04-05T07:00:00Z", 7, 18.0);
  garden.read_days(2, "2026-04-05T07:00:00Z", 7, 11.5);
  return garden;
}

}  // namespace

TEST_CASE("a morning summary tells each place's low, its outlook, and what is open") {
  LettersGarden garden = cold_night();
  garden.notice("cover", "2026-04-11T14:30:00Z", "Fleece the north frame tonight")
      .deadline = at("2026-04-11T17:20:00Z");
  garden.notice("vent", "2026-04-12T06:50:00Z", "Open the north frame").deadline =
      at("2026-04-12T07:40:00Z");
  garden.notice("dry", "2026-04-12T06:00:00Z", "Look at the water in the yard");
  garden.notice("due", "2026-04-10T06:00:00Z", "Pot on the chillies").deadline =
      at("2026-04-14T18:00:00Z");
  garden.commit("2026-04-12T07:00:00Z");
  const WrittenLetter letter = garden.letter("2026-04-12T07:00:00Z");
  CHECK(letter.kind == "morning");
  CHECK(letter.title == "Last night in Hochfeld school garden");
  CHECK(letter.at == at("2026-04-12T07:00:00Z"));
  CHECK(letter.ends_at == at("2026-04-12T10:00:00Z"));
  CHECK(
      letter.body ==
      R"(In °C: the low of each place, and what the evening's outlook had said, with the range that holds eight nights in ten.

  place         low  at     outlook             keep above
  North frame  -0.4  06:10  1.2 (-0.8 to 2.7)   1.0 not held
  Yard         -2.3  05:55  -1.0 (-3.0 to 0.5)    -
  Pea bed         -  -      -                   0.0 no reading

Open:

  Fleece the north frame tonight, was to be done by 19:20 on Sat
    2026-04-11
  Open the north frame, by 09:40
  Look at the water in the yard

Of the batches, due now or soon:

  Pot on the chillies, by 20:00 on Tue 2026-04-14)");
}

TEST_CASE("a morning summary in German is German to its numbers") {
  LettersGarden garden = cold_night();
  garden.wording = german(garden.zone);
  garden.changes.nights.front().layers = 2;
  garden.changes.nights.back().layers.reset();
  garden.commit("2026-04-12T07:00:00Z");
  const WrittenLetter letter = garden.letter("2026-04-12T07:00:00Z");
  CHECK(letter.title == "Hochfeld school garden: die letzte Nacht");
  CHECK(
      letter.body ==
      R"(In °C: die Tiefstwerte, und was der Ausblick am Abend gesagt hatte, mit der Spanne, in der acht von zehn Nächten liegen.

  Ort          tief  um     Ausblick             mehr als
  North frame  -0,4  06:10  1,2 (-0,8 bis 2,7)   1,0 nicht gehalten
  Yard         -2,3  05:55  -1,0 (-3,0 bis 0,5)    -
  Pea bed         -  -      -                    0,0 kein Messwert

North frame: 2 Lagen aufgelegt; der Ausblick gilt ohne Abdeckung.

Yard: die Abdeckung wurde in der Nacht geändert; der Ausblick gilt ohne Abdeckung.

Nichts ist offen.)");
}

TEST_CASE("letters tell degrees Fahrenheit where the garden does") {
  LettersGarden garden = cold_night();
  garden.wording = Wording("en", TemperatureUnit::kFahrenheit, garden.zone);
  garden.read_days(1, "2026-04-05T07:00:00Z", 7, 18.0);
  garden.commit("2026-04-12T07:00:00Z");
  const std::string morning = garden.letter("2026-04-12T07:00:00Z").body;
  CHECK(morning.find("In °F:") == 0);
  CHECK(morning.find("  31.2  06:10  34.2 (30.6 to 36.9)  33.8 not held\n") !=
        std::string::npos);
  garden.garden.hours.morning_summary.reset();
  const std::string sunday = garden.letter("2026-04-12T16:00:00Z").body;
  CHECK(sunday.find("high and low in °F") != std::string::npos);
  CHECK(sunday.find("Sun to Mon   64.4  42.8  ") != std::string::npos);
  CHECK(sunday.find("Coldest: 42.8 °F in the north frame, ") != std::string::npos);
}

TEST_CASE("a summary before the night is over tells the lows so far") {
  LettersGarden garden;
  garden.garden.hours.morning_summary = 7h + 15min;  // the sun rose at 06:38
  for (int minute = 0; minute < 11 * 60 + 30; minute += 10) {
    const Instant time = at("2026-04-11T18:00:00Z") + std::chrono::minutes{minute};
    garden.read(1, time, 4.0 - minute / 120.0);
  }
  // Heard for a while only, and again when the night was as good as over.
  garden.read(2, at("2026-04-11T19:00:00Z"), -5.0);
  garden.read(2, at("2026-04-12T05:00:00Z"), 3.0);
  garden.commit("2026-04-12T05:30:00Z");
  const std::string body = garden.letter("2026-04-12T05:15:00Z").body;
  CHECK(body.find("The night is not over yet: these are the lows by 07:05.") !=
        std::string::npos);
  CHECK(body.find("  North frame  -1.5  07:00  -        1.0 not held\n") !=
        std::string::npos);
  CHECK(body.find("  Yard            -  -      -          - too few readings\n") !=
        std::string::npos);
}

TEST_CASE("a summary says the same when it is written late, after more has come") {
  LettersGarden garden = cold_night();
  garden.notice("dry", "2026-04-12T06:00:00Z", "Look at the water in the yard");
  garden.notice("damp", "2026-04-12T05:00:00Z", "Air the north frame").closed_at =
      at("2026-04-12T06:30:00Z");
  garden.commit("2026-04-12T07:00:00Z");
  const std::string in_time = garden.letter("2026-04-12T07:00:00Z").body;
  CHECK(in_time.find("Look at the water") != std::string::npos);
  CHECK(in_time.find("Air the north frame") == std::string::npos);
  garden.changes.notices[1] = *garden.store.notice(1);
  garden.changes.notices[1].state = NoticeState::kDone;
  garden.changes.notices[1].closed_at = at("2026-04-12T07:30:00Z");
  garden.changes.notices[2] = *garden.store.notice(2);
  garden.notice("vent", "2026-04-12T07:10:00Z", "Open the north frame");
  garden.read(1, at("2026-04-12T07:20:00Z"), -9.0);
  garden.changes.covers.push_back({"yard", at("2026-04-12T07:20:00Z"), 2});
  garden.commit("2026-04-12T08:00:00Z");
  CHECK(garden.letter("2026-04-12T07:00:00Z").body == in_time);
}

TEST_CASE("a night of which nothing was measured is told as one") {
  LettersGarden garden;
  garden.expect("yard", "2026-04-12", 2, -1.0);
  garden.commit("2026-04-12T07:00:00Z");
  CHECK(garden.letter("2026-04-12T07:00:00Z").body ==
        "Nothing was measured last night. If you did not expect that, look at the "
        "sensors, their batteries and the broker.\n\nNothing is open.");
}

TEST_CASE("a place whose sensor measures the soil alone is in no letter") {
  LettersGarden garden = cold_night();
  garden.changes.series.back().channel = Channel::kSoilTemperature;
  garden.commit("2026-04-12T07:00:00Z");
  CHECK(garden.letter("2026-04-12T07:00:00Z").body.find("Pea bed") == std::string::npos);
}

TEST_CASE("keep-above is that which the daemon reckoned from the batches") {
  LettersGarden garden = cold_night();
  garden.changes.marks[std::string(kMarkKeepAbove) + "yard"] = -5000;
  garden.commit("2026-04-12T07:00:00Z");
  CHECK(garden.letter("2026-04-12T07:00:00Z").body.find("  -5.0 held\n") !=
        std::string::npos);
}

TEST_CASE("a Sunday letter tells the week's highs and lows, and how the outlooks did") {
  LettersGarden garden = a_week();
  garden.garden.hours.morning_summary.reset();
  garden.expect("north-frame", "2026-04-06", 1, 7.0);
  garden.night("north-frame", "2026-04-06", 6.0, "2026-04-06T05:00:00Z");
  garden.expect("yard", "2026-04-12", 1, 2.0);
  // Under fleece that was to add 2 degrees: 0.1 without it.
  garden.night("yard", "2026-04-12", 2.1, "2026-04-12T05:00:00Z", 1, 2.0);
  garden.expect("yard", "2026-04-05", 1, 20.0);  // of the week before
  garden.night("yard", "2026-04-05", 0.0, "2026-04-05T05:00:00Z");
  garden.changes.mutes[{"dry", "yard"}] = {"dry", "yard", at("2026-04-20T08:00:00Z")};
  garden.changes.mutes[{"damp", ""}] = {"damp", "", at("2026-04-13T08:00:00Z")};
  garden.changes.mutes[{"vent", ""}] = {"vent", "", at("2026-04-12T15:59:00Z")};
  garden.changes.routes["email-1"] = {.name = "email-1",
                                      .failing_since = at("2026-04-11T08:00:00Z"),
                                      .trouble = "no answer from mail.example.org"};
  garden.changes.routes["mqtt-2"] = {.name = "mqtt-2"};
  garden.notice("move", "2026-04-12T06:00:00Z", "The lettuces can move to the yard");
  garden.commit("2026-04-12T16:00:00Z");
  const WrittenLetter letter = garden.letter("2026-04-12T16:00:00Z");
  CHECK(letter.kind == "sunday");
  CHECK(letter.title == "The week in Hochfeld school garden");
  CHECK(letter.ends_at == at("2026-04-12T22:00:00Z"));
  CHECK(
      letter.body ==
      R"(Each day's high and low in °C, from 09:00 on Sun 2026-04-05 to 09:00 on Sun 2026-04-12.

               North frame   Yard         Pea bed
               high  low     high   low   high  low
  Sun to Mon   18.0  6.0     11.5  -0.5      -    -
  Mon to Tue   18.5  6.5     12.0   0.0      -    -
  Tue to Wed   19.0  7.0     12.5   0.5      -    -
  Wed to Thu   19.5  7.5     13.0   1.0      -    -
  Thu to Fri   20.0  8.0     13.5   1.5      -    -
  Fri to Sat   20.5  8.5     14.0   2.0      -    -
  Sat to Sun   21.0  9.0     14.5   2.5      -    -

Coldest: -0.5 °C in the yard, 08:00 on Mon 2026-04-06. Warmest: 21.0 °C in the north frame, 15:00 on Sat 2026-04-11.

At dusk the outlooks were off by 1.5 °C on average over 2 nights; a forecast is no promise.

Of the batches, due now or soon:

  The lettuces can move to the yard

Muted:

  damp everywhere, until 10:00 on Mon 2026-04-13
  dry in the yard, until 10:00 on Mon 2026-04-20

Notices do not get through by:

  email-1, since 10:00 on Sat 2026-04-11: no answer from
    mail.example.org)");
}

TEST_CASE("a Sunday letter in German is German to its days") {
  LettersGarden garden = a_week();
  garden.wording = german(garden.zone);
  garden.garden.hours.morning_summary.reset();
  std::erase_if(garden.changes.readings, [](const ReadingRow& row) {
    return row.series == 2 || row.time >= at("2026-04-12T00:00:00Z");
  });
  garden.commit("2026-04-12T16:00:00Z");
  const WrittenLetter letter = garden.letter("2026-04-12T16:00:00Z");
  CHECK(letter.title == "Hochfeld school garden: die Woche");
  CHECK(
      letter.body ==
      R"(Höchst- und Tiefstwert jedes Tages in °C, von 09:00 Uhr am So, 5.4.2026 bis 09:00 Uhr am So, 12.4.2026.

              North frame   Yard         Pea bed
              hoch  tief    hoch  tief   hoch  tief
  So auf Mo   18,0   6,0       -     -      -     -
  Mo auf Di   18,5   6,5       -     -      -     -
  Di auf Mi   19,0   7,0       -     -      -     -
  Mi auf Do   19,5   7,5       -     -      -     -
  Do auf Fr   20,0   8,0       -     -      -     -
  Fr auf Sa   20,5   8,5       -     -      -     -
  Sa auf So   21,0  13,9*      -     -      -     -

* Stunden ohne Messwert fehlen: es kann kälter oder wärmer gewesen sein.

Am kältesten: 6,0 °C, North frame, 08:00 Uhr am Mo, 6.4.2026. Am wärmsten: 21,0 °C, North frame, 15:00 Uhr am Sa, 11.4.2026.

Kein Ausblick der Woche ließ sich mit einem Tiefstwert vergleichen.

Nichts ist offen.)");
}

TEST_CASE("more places than stand side by side go into tables below") {
  LettersGarden garden = a_week();
  garden.garden.hours.morning_summary.reset();
  for (SeriesId id = 4; id <= 6; ++id) {
    Place place;
    place.id = "bed-" + std::to_string(id);
    place.name = "Bed number " + std::to_string(id) + " behind the south wall";
    garden.garden.places.push_back(place);
    garden.garden.sensors.push_back(sensor_of(place.id));
    garden.changes.series.push_back(
        {id, place.id + "-probe", place.id, Channel::kAirTemperature});
  }
  garden.commit("2026-04-12T16:00:00Z");
  const std::string body = garden.letter("2026-04-12T16:00:00Z").body;
  CHECK(body.find("               North frame   Yard         Pea bed     Bed number 4\n" +
                  std::string(54, ' ') + "behind the south\n" + std::string(54, ' ') +
                  "wall\n" +
                  "               high  low     high   low   high  low   high  low\n") !=
        std::string::npos);
  CHECK(body.find("\n\n               Bed number 5       Bed number 6\n") !=
        std::string::npos);
}

TEST_CASE("a week in which nothing was measured is told as one") {
  LettersGarden garden;
  garden.garden.hours.morning_summary.reset();
  garden.commit("2026-04-12T16:00:00Z");
  CHECK(garden.letter("2026-04-12T16:00:00Z").body ==
        "Nothing was measured this week. If you did not expect that, look at the "
        "sensors, their batteries and the broker.\n\nNothing is open.");
}

TEST_CASE("the day on which the clock changes is whole with its 23 hours") {
  LettersGarden garden;
  garden.garden.hours.morning_summary.reset();
  // 09:00 on Saturday is 08:00 UTC, on Sunday 07:00.
  for (int hour = 0; hour < 24; ++hour) {
    garden.read(1, at("2026-03-28T08:00:00Z") + std::chrono::hours{hour}, hour);
  }
  garden.commit("2026-03-29T16:00:00Z");
  const std::string body = garden.letter("2026-03-29T16:00:00Z").body;
  CHECK(body.find("to 09:00 on Sun 2026-03-29.") != std::string::npos);
  CHECK(body.find("  Sat to Sun   22.0  0.0") != std::string::npos);
  CHECK(body.find('*') == std::string::npos);
}

TEST_CASE("days that begin at midnight are named by their one date") {
  LettersGarden garden = a_week();
  garden.garden.hours.morning_summary.reset();
  garden.garden.day_starts = 0min;
  garden.store.set_days(DayGrid(garden.zone, 0min));
  garden.commit("2026-04-12T16:00:00Z");
  const std::string body = garden.letter("2026-04-12T16:00:00Z").body;
  CHECK(body.find("from 00:00 on Sun 2026-04-05 to 00:00 on Sun 2026-04-12.") !=
        std::string::npos);
  CHECK(body.find("\n  Sat   21.0  ") != std::string::npos);
}

TEST_CASE(
    "the week's chart has each place with readings, and gaps where there are none") {
  LettersGarden garden = a_week();
  std::erase_if(garden.changes.readings, [](const ReadingRow& row) {
    return row.series == 2 && row.time < at("2026-04-11T07:00:00Z");
  });
  garden.commit("2026-04-12T16:00:00Z");
  const WeekChart chart = week_chart(garden.store, garden.garden, garden.zone,
                                     garden.wording, at("2026-04-12T16:00:00Z"));
  CHECK(chart.title == "Highs and lows of the week, each day from 09:00 on");
  CHECK(chart.days ==
        std::vector<std::string>{"Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat"});
  CHECK(!chart.in_fahrenheit);
  REQUIRE(chart.lines.size() == 2);
  const WeekChart::Line& frame = chart.lines.front();
  CHECK(frame.place == "North frame");
  CHECK(frame.keep_above == Celsius{1.0});
  REQUIRE((frame.highs.size() == 7 && frame.lows.size() == 7));
  CHECK(frame.highs.front() == Celsius{18.0});
  CHECK(frame.lows.back() == Celsius{9.0});
  const WeekChart::Line& yard = chart.lines.back();
  CHECK(yard.place == "Yard");
  CHECK(!yard.keep_above);
  CHECK(!yard.highs.at(5));
  CHECK(yard.highs.at(6) == Celsius{14.5});
}
