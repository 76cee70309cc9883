// `rimeward mute`: until when, of what and where, in the words of a gardener; and what
// `notices` and `now` then show.

#include <string>

#include <doctest/doctest.h>
#include <nlohmann/json.hpp>

#include "daemon/store/mute_word.h"
#include "sensors/iso_time.h"
#include "tests/support/sample_store.h"
#include "tests/tools/cli_run.h"
#include "tests/tools/season_garden.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;
using testing::SeasonGarden;

struct Said {
  std::string words;
  std::string_view until;
  std::string shown;
};

TEST_CASE("a mute ends at the time that was said") {
  const Said cases[]{
      {"21:00", "2026-04-12T19:00:00Z", "21:00"},
      {"18:00", "2026-04-13T16:00:00Z", "Mon 13 Apr 18:00"},
      {"18:40", "2026-04-13T16:40:00Z", "Mon 13 Apr 18:40"},
      {"tomorrow", "2026-04-13T10:00:00Z", "Mon 13 Apr 12:00"},
      {"tomorrowT07:30", "2026-04-13T05:30:00Z", "Mon 13 Apr 07:30"},
      {"todayT23:30", "2026-04-12T21:30:00Z", "23:30"},
      {"2026-04-20", "2026-04-20T10:00:00Z", "Mon 20 Apr 12:00"},
      {"2026-12-20T08:00", "2026-12-20T07:00:00Z", "Sun 20 Dec 08:00"},
  };
  for (const Said& said : cases) {
    CAPTURE(said.words);
    SeasonGarden garden;
    const Reply reply = garden.run("mute damp --until " + said.words);
    CHECK(reply.text == "damp: written down, muted until " + said.shown + "\n");
    REQUIRE(garden.actions().size() == 1);
    const ActionRow action = garden.actions().front();
    CHECK(action.at == sample_evening());
    CHECK(mute_of(action) ==
          MuteRow{.kind = "damp",
                  .place = "",
                  .until = parse_instant(std::string(said.until)).value()});
  }
}

TEST_CASE("a mute that cannot be is refused, and nothing is written") {
  const Said cases[]{
      {"damp --until today", "", "--until today is over; it is 18:40 now"},
      {"damp --until 2026-04-12T18:40", "",
       "--until 2026-04-12T18:40 is over; it is 18:40 now"},
      {"damp --until yesterday", "", "--until yesterday is over; it is 18:40 now"},
      {"damp --until 2027-04-15", "",
       "--until 2027-04-15 is more than a year off; is the year right?"},
      {"damp --until never", "",
       "--until: expected a time such as 18:00, tomorrow, 2026-04-19, 2026-04-19T18:00 "
       "or now, got \"never\""},
      {"damp --place atic --until tomorrow", "",
       "no place \"atic\"; places: glasshouse, north-frame, south-frame, pea-bed, yard"},
      {"sunday --place yard --until tomorrow", "",
       "mute: sunday is about the garden as a whole; leave out --place"},
  };
  for (const Said& said : cases) {
    CAPTURE(said.words);
    SeasonGarden garden;
    const Reply reply = garden.run("mute " + said.words);
    CHECK(reply.status == 2);
    CHECK(reply.trouble == said.shown);
    CHECK(garden.actions().empty());
  }
}

TEST_CASE("a mute of over two weeks is warned of where it is about frost") {
  SeasonGarden garden;
  const auto warns = [&](const std::string& words) {
    return garden.run("mute " + words).text.find("over 14 days") != std::string::npos;
  };
  CHECK(warns("danger --until 2026-04-27"));
  CHECK(warns("cover --until 2026-04-27"));
  CHECK_FALSE(warns("cover --until 2026-04-26"));
  CHECK_FALSE(warns("damp --until 2026-06-01"));
}

// The sample garden with a damp glasshouse muted, a mute that is over, the frame opened
// and a letter told.
Store answered_store() {
  Store store = sample_store(sample_evening());
  Changes changes;
  changes.now = sample_evening();
  const auto mute = [&](std::string kind, std::string place, Instant until) {
    changes.mutes[{kind, place}] = {.kind = kind, .place = place, .until = until};
  };
  mute("damp", "glasshouse", sample_evening() + 40h);
  mute("due", "", sample_evening() + 1h);
  mute("dry", "", sample_evening());
  changes.openings = {{"north-frame", sample_evening() - 8h, true},
                      {"south-frame", sample_evening() - 8h, true},
                      {"south-frame", sample_evening() - 2h, false},
                      {"glasshouse", sample_evening() - 15 * 24h, true},
                      {"yard", sample_evening() - 43h, true}};
  for (NoticeId id = 6; id <= 30; ++id) {
    NoticeRow letter;
    letter.id = id;
    letter.kind = id == 30 ? "sunday" : "morning";
    letter.subject = "the garden";
    letter.state = NoticeState::kTold;
    letter.raised_at = letter.spoke_at = sample_evening() - (31 - id) * 1h;
    letter.closed_at = letter.raised_at;
    letter.title = id == 30 ? "The week in the garden" : "Last night in the garden";
    changes.notices[id] = letter;
  }
  store.commit(changes);
  return store;
}

std::string answer_of(const std::string& command) {
  Store store = answered_store();
  return run_client_on(store, sample_garden(), words_of(command), {}).text;
}

TEST_CASE("notices lists what is muted now, and letters apart from what is over") {
  const std::string text = answer_of("notices");
  CAPTURE(text);
  CHECK(text.find("Muted, told to nobody until then:\n"
                  "\n"
                  "kind  place       until\n"
                  "due   all         19:40\n"
                  "damp  Glasshouse  Tue 14 Apr 10:40\n"
                  "\n"
                  "Over, newest first:\n") != std::string::npos);
  CHECK(text.find("\n 1  done       North frame") != std::string::npos);
  CHECK(
      text.ends_with("\n"
                     "\n"
                     "Letters, newest first:\n"
                     "\n"
                     "id  kind     letter                    written\n"
                     "30  sunday   The week in the garden    17:40\n"
                     "29  morning  Last night in the garden  16:40\n"
                     "28  morning  Last night in the garden  15:40\n"));
  CHECK(answer_of("notices --all").find("\n 6  morning ") != std::string::npos);
}

TEST_CASE("notices as JSON has what is muted, and letters apart from what is over") {
  const auto json = nlohmann::json::parse(answer_of("notices --json"));
  CHECK(json.at("closed").size() == 3);
  CHECK(json.at("letters").size() == 3);
  CHECK(json.at("letters").at(0).at("state") == "told");
  REQUIRE(json.at("muted").size() == 2);
  CHECK(json.at("muted").at(1) == nlohmann::json{{"kind", "damp"},
                                                 {"place", "glasshouse"},
                                                 {"until", "2026-04-14T08:40:00Z"},
                                                 {"until_local", "2026-04-14 10:40"}});
}

TEST_CASE("now says which place is open and since when, unless that is long ago") {
  const std::string text = answer_of("now");
  CAPTURE(text);
  CHECK(text.find("heard    cover     open    note\n") != std::string::npos);
  CHECK(text.find("18:30    -         10:40\n") != std::string::npos);
  CHECK(text.find("18:30    -         2 days\n") != std::string::npos);
  CHECK(text.find("18:30    2 layers\n") != std::string::npos);
  const auto places = nlohmann::json::parse(answer_of("now --json")).at("places");
  CHECK(places.at(1).at("open_since") == "2026-04-12T08:40:00Z");
  CHECK(places.at(0).at("open_since").is_null());
  CHECK(places.at(2).at("open_since").is_null());
}

TEST_CASE("what is no longer muted says where the kind stays muted") {
  Store store = answered_store();
  const Reply reply =
      run_client_on(store, sample_garden(), words_of("mute damp --until now"), {});
  CHECK(reply.text ==
        "damp: written down, no longer muted\n"
        "Still muted until Tue 14 Apr 10:40: damp, Glasshouse\n");
  REQUIRE(store.actions_after(0).size() == 1);
  CHECK(mute_of(store.actions_after(0).front())->until == sample_evening());
}

}  // namespace
}  // namespace rimeward
