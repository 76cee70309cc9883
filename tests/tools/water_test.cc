// `rimeward water`: when a watering was, in the words of a gardener.

#include <string>

#include <doctest/doctest.h>

#include "sensors/iso_time.h"
#include "tests/tools/season_garden.h"

namespace rimeward {
namespace {

using testing::SeasonGarden;

Instant at(std::string_view text) {
  return parse_instant(text).value();
}

struct Said {
  std::string words;
  std::string_view at;
  std::string shown;
};

TEST_CASE("a watering is written down at the time that was said") {
  const Said cases[]{
      {"", "2026-04-12T16:40:00Z", "18:40"},
      {"--at 07:30", "2026-04-12T05:30:00Z", "07:30"},
      {"--at today", "2026-04-12T16:40:00Z", "18:40"},
      {"--at yesterday", "2026-04-11T10:00:00Z", "Sat 11 Apr 12:00"},
      {"--at yesterdayT19:15", "2026-04-11T17:15:00Z", "Sat 11 Apr 19:15"},
      {"--at 2026-04-10", "2026-04-10T10:00:00Z", "Fri 10 Apr 12:00"},
      {"--at 2026-04-10T06:05", "2026-04-10T04:05:00Z", "Fri 10 Apr 06:05"}};
  for (const Said& said : cases) {
    CAPTURE(said.words);
    SeasonGarden garden;
    const Reply reply = garden.run("water pea-bed " + said.words);
    CHECK(reply.text == "Pea bed: written down, watered " + said.shown + "\n");
    REQUIRE(garden.actions().size() == 1);
    const ActionRow action = garden.actions().front();
    CHECK(action.verb == "water");
    CHECK(action.place == "pea-bed");
    CHECK(action.at == at(said.at));
  }
}

TEST_CASE("a day and a time may be one word in quotes") {
  SeasonGarden garden;
  CHECK(garden.run_words({"water", "Pea bed", "--at", "yesterday 19:15"}).text ==
        "Pea bed: written down, watered Sat 11 Apr 19:15\n");
}

TEST_CASE("a watering that cannot have been is refused, and nothing is written") {
  const Said cases[]{
      {"pea-bde", "",
       "no place \"pea-bde\"; did you mean \"pea-bed\"?; places: "
       "glasshouse, north-frame, south-frame, pea-bed, yard"},
      {"pea-bed --at 18:41", "", "--at 18:41 is still to come; it is 18:40 now"},
      {"pea-bed --at 2026-04-13", "",
       "--at 2026-04-13 is still to come; today is 2026-04-12"},
      {"pea-bed --at 2025-04-12", "",
       "--at 2025-04-12 is more than 31 days ago; is the year right?"},
      {"pea-bed --at 24:00", "",
       "--at: expected a time such as 07:30, yesterday or 2026-04-12T07:30, got "
       "\"24:00\""},
      {"pea-bed --at yesterdayT7:30", "",
       "--at: expected a time such as 07:30, yesterday or 2026-04-12T07:30, got "
       "\"yesterdayT7:30\""}};
  for (const Said& said : cases) {
    CAPTURE(said.words);
    SeasonGarden garden;
    const Reply reply = garden.run("water " + said.words);
    CHECK(reply.status == 2);
    CHECK(reply.trouble == said.shown);
    CHECK(garden.actions().empty());
  }
}

}  // namespace
}  // namespace rimeward
