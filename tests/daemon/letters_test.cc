// When letters are due, and that none is lost or doubled.

#include "daemon/letters.h"

#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "daemon/store/marks.h"
#include "tests/daemon/letters_garden.h"

using namespace rimeward;
using namespace rimeward::testing;
using namespace std::chrono_literals;

namespace {

// Looks every five minutes, and writes after each, as the daemon does: the letters of a
// span, each as its kind and the hour that it was due.
std::vector<std::string> letters_of(LettersGarden& garden, std::string_view from,
                                    std::string_view to) {
  Letters letters(garden.garden, garden.zone, garden.wording, garden.store);
  std::vector<std::string> all;
  for (Instant look = at(from); look < at(to); look += 5min) {
    letters.look(look, garden.changes);
    for (const WrittenLetter& letter :
         letters.write(garden.store, look, garden.changes)) {
      all.push_back(letter.kind + " " + format_utc(letter.at));
    }
  }
  return all;
}

using Lines = std::vector<std::string>;

}  // namespace

TEST_CASE("a summary goes each day and a letter each Sunday, at their hours") {
  LettersGarden garden;
  garden.garden.hours.morning_summary = 7h + 12min;
  CHECK(letters_of(garden, "2026-04-10T05:00:00Z", "2026-04-13T22:00:00Z") ==
        Lines{"morning 2026-04-10T05:12:00Z", "morning 2026-04-11T05:12:00Z",
              "morning 2026-04-12T05:12:00Z", "sunday 2026-04-12T16:00:00Z",
              "morning 2026-04-13T05:12:00Z"});
}

TEST_CASE("without an hour in the settings there is no letter") {
  LettersGarden garden;
  garden.garden.hours = {};
  CHECK(letters_of(garden, "2026-04-10T05:00:00Z", "2026-04-13T22:00:00Z").empty());
  CHECK(garden.changes.marks.empty());
}

TEST_CASE("the first start ever brings no letter for an hour that was over") {
  LettersGarden garden;
  CHECK(letters_of(garden, "2026-04-12T07:05:00Z", "2026-04-12T15:00:00Z").empty());
  LettersGarden prompt;
  CHECK(letters_of(prompt, "2026-04-12T07:00:00Z", "2026-04-12T15:00:00Z") ==
        Lines{"morning 2026-04-12T07:00:00Z"});
}

TEST_CASE("a daemon that was down at the hour writes late, but not past the end") {
  const auto after_a_night_off = [](std::string_view up_again) {
    LettersGarden garden;
    letters_of(garden, "2026-04-11T20:00:00Z", "2026-04-11T20:05:00Z");
    garden.commit("2026-04-11T20:05:00Z");
    return letters_of(garden, up_again, "2026-04-12T22:30:00Z");
  };
  // The summary ends at noon, the Sunday letter at midnight.
  CHECK(after_a_night_off("2026-04-12T09:55:00Z") ==
        Lines{"morning 2026-04-12T07:00:00Z", "sunday 2026-04-12T16:00:00Z"});
  CHECK(after_a_night_off("2026-04-12T10:00:00Z") ==
        Lines{"sunday 2026-04-12T16:00:00Z"});
  CHECK(after_a_night_off("2026-04-12T21:55:00Z") ==
        Lines{"sunday 2026-04-12T16:00:00Z"});
  CHECK(after_a_night_off("2026-04-12T22:00:00Z").empty());
}

TEST_CASE("a summary that is asked for late ends three hours after its hour") {
  LettersGarden garden;
  garden.garden.hours.morning_summary = 23h;
  Letters letters(garden.garden, garden.zone, garden.wording, garden.store);
  letters.look(at("2026-04-10T20:55:00Z"), garden.changes);
  letters.look(at("2026-04-10T23:55:00Z"), garden.changes);  // 01:55 in the garden
  const auto written =
      letters.write(garden.store, at("2026-04-10T23:55:00Z"), garden.changes);
  REQUIRE(written.size() == 1);
  CHECK(written.front().at == at("2026-04-10T21:00:00Z"));
  CHECK(written.front().ends_at == at("2026-04-11T00:00:00Z"));
}

TEST_CASE("what is due and not written until past its end is left out for good") {
  LettersGarden garden;
  Letters letters(garden.garden, garden.zone, garden.wording, garden.store);
  letters.look(at("2026-04-12T07:00:00Z"), garden.changes);
  CHECK(letters.is_due());
  CHECK(letters.write(garden.store, at("2026-04-12T10:00:00Z"), garden.changes).empty());
  CHECK(!letters.is_due());
  garden.commit("2026-04-12T10:00:00Z");
  CHECK(letters_of(garden, "2026-04-12T09:00:00Z", "2026-04-12T15:00:00Z").empty());
}

TEST_CASE("a kill at any moment around the hour neither loses a letter nor doubles it") {
  const Instant begin = at("2026-04-12T06:50:00Z");
  const Instant hour = at("2026-04-12T07:00:00Z");
  for (Instant killed = begin; killed < begin + 30min; killed += 5min) {
    for (const bool was_committed : {false, true}) {
      CAPTURE(format_utc(killed));
      CAPTURE(was_committed);
      LettersGarden garden;
      std::vector<Instant> told;
      {
        Letters letters(garden.garden, garden.zone, garden.wording, garden.store);
        for (Instant look = begin; look <= killed; look += 5min) {
          letters.look(look, garden.changes);
          garden.commit(format_utc(look));
          if (!letters.is_due()) continue;
          const auto written = letters.write(garden.store, look, garden.changes);
          if (look == killed && !was_committed) break;  // lost with the process
          garden.commit(format_utc(look));
          for (const WrittenLetter& letter : written)
            told.push_back(letter.at);
        }
        garden.changes = {};
      }
      Letters letters(garden.garden, garden.zone, garden.wording, garden.store);
      letters.look(killed + 5min, garden.changes);
      for (const WrittenLetter& letter :
           letters.write(garden.store, killed + 5min, garden.changes)) {
        told.push_back(letter.at);
      }
      const bool has_come = killed + 5min >= hour;
      CHECK(told == (has_come ? std::vector<Instant>{hour} : std::vector<Instant>{}));
    }
  }
}

TEST_CASE(
    "an hour that the clock skips is the moment after, one shown twice comes once") {
  LettersGarden garden;
  garden.garden.hours.morning_summary = 2h + 30min;
  garden.garden.hours.sunday_letter = 2h + 30min;
  CHECK(letters_of(garden, "2026-03-28T23:00:00Z", "2026-03-29T12:00:00Z") ==
        Lines{"morning 2026-03-29T01:00:00Z", "sunday 2026-03-29T01:00:00Z"});
  LettersGarden autumn;
  autumn.garden.hours = garden.garden.hours;
  CHECK(letters_of(autumn, "2026-10-24T22:00:00Z", "2026-10-25T12:00:00Z") ==
        Lines{"morning 2026-10-25T00:30:00Z", "sunday 2026-10-25T00:30:00Z"});
}
