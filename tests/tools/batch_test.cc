// `rimeward batch`: what it writes for the daemon, what it shows, what it refuses.

#include <string>
#include <vector>

#include <doctest/doctest.h>
#include <nlohmann/json.hpp>

#include "sensors/iso_time.h"
#include "tests/tools/season_garden.h"
#include "tools/cli/batches.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;
using nlohmann::json;
using std::chrono::days;
using std::chrono::sys_days;
using std::chrono::year;
using testing::SeasonGarden;

Instant at(std::string_view text) {
  return parse_instant(text).value();
}

BatchWord word_of(const ActionRow& action) {
  return batch_from_json(action.detail).value();
}

bool has(const std::string& text, std::string_view part) {
  return text.find(part) != std::string::npos;
}

TEST_CASE("a sowing is written down for the daemon with all that was said") {
  SeasonGarden garden;
  const Reply reply = garden.run(
      "batch add chilli --place glasshouse --sown 2026-03-29 --count 24 --next "
      "north-frame");
  CHECK(reply.status == 0);
  CHECK(reply.text ==
        "chillies: written down, 24 chillies sown 29 Mar in the glasshouse, next the\n"
        "north frame\n");
  REQUIRE(garden.actions().size() == 1);
  const ActionRow action = garden.actions().front();
  CHECK(action.verb == "sow");
  CHECK(action.at == garden.now());
  const BatchWord word = word_of(action);
  CHECK(word.batch.id == "chillies");
  CHECK(word.batch.crop == "chilli");
  CHECK(word.batch.sown == sys_days{year{2026} / 3 / 29});
  CHECK(word.batch.count == 24);
  CHECK(word.batch.next_place == "north-frame");
  CHECK(word.place == "glasshouse");
  // Midnight of the day on which the clocks change at two.
  CHECK(word.since == at("2026-03-28T23:00:00Z"));
}

TEST_CASE("the id is told back in JSON too") {
  SeasonGarden garden;
  garden.run("batch add chilli --place glasshouse");
  const json answer =
      json::parse(garden.run("batch add chilli --place yard --json").text);
  CHECK(answer.at("batch") == "chillies-2");
  CHECK(answer.at("place") == "yard");
  CHECK_FALSE(answer.contains("layers"));
}

TEST_CASE("a batch without a date is sown today") {
  SeasonGarden garden;
  CHECK(garden.run("batch add Salad --place glasshouse").status == 0);
  const BatchWord word = word_of(garden.actions().front());
  CHECK(word.batch.id == "lettuces");
  CHECK(word.batch.sown == sys_days{year{2026} / 4 / 12});
  CHECK(word.batch.count == 0);
  CHECK(word.since == at("2026-04-11T22:00:00Z"));
}

TEST_CASE("ids are made unique, also among batches not yet taken, and told back") {
  SeasonGarden garden;
  const std::string command = "batch add chilli --place glasshouse";
  garden.run(command);
  garden.take_actions();
  CHECK(garden.run(command).text ==
        "chillies-2: written down, chilli sown 12 Apr in the glasshouse\n"
        "chillies is taken: this one is called chillies-2\n");
  CHECK(has(garden.run(command).text, "chillies-3: written down"));
  CHECK(garden.run("batch finish chillies").status == 0);
  // A finished one keeps its name, for the record.
  CHECK(has(garden.run(command).text, "chillies-4: written down"));
}

TEST_CASE("a name becomes an id and finds its batch again") {
  CHECK(id_from_name("Anna's Chillies") == "anna-s-chillies");
  CHECK(id_from_name("  Küche, früh!  ") == "kueche-frueh");
  CHECK(id_from_name("?!") == "");
  CHECK(id_from_name(std::string(80, 'x')).size() == 40);
  SeasonGarden garden;
  garden.run_words(
      {"batch", "add", "chilli", "--place", "glasshouse", "--name", "Anna's Chillies"});
  CHECK(garden.run_words({"batch", "move", "Anna's Chillies", "North frame"}).status ==
        0);
  CHECK(word_of(garden.actions().back()).batch.id == "anna-s-chillies");
  const Reply reply = garden.run_words(
      {"batch", "add", "chilli", "--place", "glasshouse", "--name", "!"});
  CHECK(reply.status == 2);
  CHECK(reply.trouble == "--name: expected a name with a letter or a digit, got \"!\"");
}

TEST_CASE("add, list, move and finish work in a row while the daemon is down") {
  SeasonGarden garden;
  garden.run("batch add chilli --place glasshouse --next north-frame");
  Reply list = garden.run("batch list --json");
  json batches = json::parse(list.text).at("batches");
  REQUIRE(batches.size() == 1);
  CHECK(batches[0].at("place") == "glasshouse");
  CHECK(batches[0].at("taken") == false);
  garden.width(160);
  CHECK(has(garden.run("batch list").text, "not yet taken by rimewardd"));
  garden.wait(2min);
  CHECK(garden.run("batch move chillies north-frame").text ==
        "chillies: written down, in the north frame from 18:42 on\n");
  batches = json::parse(garden.run("batch list --json").text).at("batches");
  CHECK(batches[0].at("place") == "north-frame");
  CHECK(batches[0].at("next_place").is_null());
  garden.wait(2min);
  CHECK(garden.run("batch finish chillies").status == 0);
  CHECK(json::parse(garden.run("batch list --json").text).at("batches").empty());
  CHECK(json::parse(garden.run("batch list --all --json").text)
            .at("batches")[0]
            .at("finished") == "2026-04-12");
  CHECK(garden.run("batch move chillies yard").trouble ==
        "chillies was finished on 12 Apr");
}

TEST_CASE("what the daemon has taken is shown the same and no longer as waiting") {
  SeasonGarden garden;
  garden.run("batch add chilli --place glasshouse --sown 2026-04-02");
  garden.run("batch move chillies north-frame --on 2026-04-10 --next pea-bed");
  const json waiting = json::parse(garden.run("batch list --json").text)["batches"][0];
  garden.take_actions();
  json taken = json::parse(garden.run("batch list --json").text)["batches"][0];
  CHECK(taken.at("taken") == true);
  CHECK_FALSE(has(garden.run("batch list").text, "not yet taken"));
  CHECK(taken.at("place") == waiting.at("place"));
  CHECK(taken.at("since") == waiting.at("since"));
  CHECK(taken.at("next_place") == "pea-bed");
  CHECK(taken.at("days") == 10);
}

TEST_CASE("a move without --next keeps where the batch goes unless it is there now") {
  SeasonGarden garden;
  garden.run("batch add chilli --place glasshouse --next pea-bed --sown 2026-04-02");
  garden.run("batch move chillies north-frame --on 2026-04-10");
  CHECK(word_of(garden.actions().back()).batch.next_place == "pea-bed");
  garden.run("batch move chillies pea-bed");
  CHECK(word_of(garden.actions().back()).batch.next_place == "");
}

TEST_CASE("a move on an earlier day counts from its noon") {
  SeasonGarden garden;
  garden.run("batch add chilli --place glasshouse --sown yesterday");
  CHECK(garden.run("batch move chillies north-frame --on yesterday").text ==
        "chillies: written down, in the north frame from Sat 11 Apr 12:00 on\n");
  CHECK(word_of(garden.actions().back()).since == at("2026-04-11T10:00:00Z"));
}

TEST_CASE("a hardened batch may stand colder than a soft one") {
  SeasonGarden garden;
  Crop kale{.id = "kale", .name = "kale", .tenderness = Tenderness::kHardy};
  kale.unhardened.killing = Celsius{-4};
  kale.hardened.killing = Celsius{-12};
  garden.garden().crops = CropTable({kale});
  garden.run("batch add kale --place glasshouse --sown 2026-03-01");
  const auto above = [&] {
    return json::parse(garden.run("batch list --json").text)
        .at("batches")[0]
        .at("keep_above_celsius")
        .get<double>();
  };
  CHECK(above() == keep_above(kale, Hardening::kSoft).degrees);
  garden.run("batch move kale north-frame --on 2026-03-20");
  CHECK(above() == keep_above(kale, Hardening::kHardened).degrees);
  CHECK(above() < -2);
}

struct Refused {
  std::string command;
  int status;
  std::string trouble;
};

TEST_CASE("what cannot be is refused in words, and nothing is written") {
  SeasonGarden garden;
  garden.run("batch add chilli --place glasshouse --sown 2026-04-05");
  garden.run("batch add lettuce --place glasshouse --sown 2026-04-05");
  garden.run("batch finish lettuces --on 2026-04-10");
  const std::vector<Refused> cases{
      {"batch add chili --place glasshouse", 2,
       "no crop \"chili\"; did you mean \"chilli\"?"},
      {"batch add melon --place glasshouse", 2,
       "no crop \"melon\"; crops: chilli, lettuce, thyme, sweet corn"},
      {"batch add chilli", 2, "batch add needs --place PLACE: where it stands"},
      {"batch add", 2, "batch add needs the crop: batch add CROP --place PLACE"},
      {"batch add chilli --place galsshouse", 2,
       "--place: no place \"galsshouse\"; did you mean \"glasshouse\"?; places: "
       "glasshouse, north-frame, south-frame, pea-bed, yard"},
      {"batch add sweet corn --place glasshouse", 2,
       "\"corn\" was not expected; batch add takes the place as --place PLACE, and a "
       "crop of two words as \"sweet corn\", in quotes"},
      {"batch add chilli --place glasshouse --next glasshouse", 2,
       "--next: it is in the glasshouse already"},
      {"batch add chilli --place glasshouse --sown 2026-04-13", 2,
       "--sown 2026-04-13 is still to come; today is 2026-04-12"},
      {"batch add chilli --place glasshouse --sown 2016-04-12", 2,
       "--sown 2016-04-12 is more than 731 days ago; is the year right?"},
      {"batch add chilli --place glasshouse --count 0", 2,
       "--count: expected 1 to 100000 plants, got \"0\""},
      {"batch add chilli --place glasshouse --on today", 2,
       "batch add takes no --on; it takes --place, --sown, --name, --count, --next"},
      {"batch move chilies yard", 2,
       "no batch \"chilies\"; did you mean \"chillies\"?; batches: chillies"},
      {"batch move", 2, "which batch? `rimeward batch list` shows them"},
      {"batch move chillies", 2, "where to? batch move chillies PLACE"},
      {"batch move chillies glasshouse", 1, "chillies is in the glasshouse already"},
      {"batch move chillies yard --on 2026-04-04", 1,
       "chillies came to the glasshouse on Sun 5 Apr 00:00: a move is later than that"},
      {"batch move chillies yard --on 2026-04-13", 2,
       "--on 2026-04-13 is still to come; today is 2026-04-12"},
      {"batch move chillies yard --next yard", 2,
       "--next: that is where it goes now, the yard"},
      {"batch move lettuces yard", 1, "lettuces was finished on 10 Apr"},
      {"batch finish lettuces", 1, "lettuces was finished on 10 Apr"},
      {"batch finish chillies --on 2026-04-04", 1,
       "chillies came to the glasshouse on 5 Apr: it ends on that day or later"},
      {"batch finish chillies yard", 2,
       "\"yard\" was not expected; batch finish takes a batch"},
      {"batch list chillies", 2,
       "\"chillies\" was not expected; batch list shows them all"},
      {"batch mvoe chillies yard", 2,
       "batch: no step \"mvoe\"; did you mean \"move\"?; steps: add, list, move, "
       "finish"}};
  const std::size_t before = garden.actions().size();
  for (const Refused& refused : cases) {
    CAPTURE(refused.command);
    const Reply reply = garden.run(refused.command);
    CHECK(reply.status == refused.status);
    CHECK(reply.trouble == refused.trouble);
    CHECK(garden.actions().size() == before);
  }
}

TEST_CASE("the list is the same as CSV, in degrees Celsius") {
  SeasonGarden garden;
  garden.garden().units = TemperatureUnit::kFahrenheit;
  garden.run("batch add chilli --place glasshouse --sown 2026-04-02 --count 6");
  CHECK(garden.run("batch list --csv").text ==
        "batch,crop,place,sown,days,count,next_place,keep_above,next_stage,finished,"
        "taken\n"
        "chillies,chilli,glasshouse,2026-04-02,10,6,,9.000,emergence,,0\n");
  CHECK(has(garden.run("batch list").text, "48.2 °F"));
}

TEST_CASE("a batch whose crop is gone is still listed") {
  SeasonGarden garden;
  garden.run("batch add chilli --place glasshouse");
  garden.garden().crops = CropTable{};
  garden.width(120);
  const Reply reply = garden.run("batch list");
  CHECK(reply.status == 0);
  CHECK(has(reply.text, "a crop that the crop table no longer has"));
}

TEST_CASE("the list fits the screen") {
  SeasonGarden garden;
  garden.run("batch add chilli --place glasshouse --sown 2026-04-02 --next north-frame");
  garden.run("batch add thyme --place pea-bed --name the-herbs-by-the-door");
  for (const std::size_t width : {60U, 80U, 140U}) {
    CAPTURE(width);
    garden.width(width);
    std::istringstream lines(garden.run("batch list").text);
    for (std::string line; std::getline(lines, line);) {
      CAPTURE(line);
      CHECK(display_width(line) <= width);
    }
  }
}

TEST_CASE("without a batch the list says how to begin") {
  SeasonGarden garden;
  CHECK(has(garden.run("batch").text, "rimeward batch add CROP"));
  CHECK(has(garden.run("batch move chillies yard").trouble,
            "there is none that is not finished"));
}

}  // namespace
}  // namespace rimeward
