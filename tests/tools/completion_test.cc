#include "tools/cli/completion.h"

#include <algorithm>
#include <chrono>
#include <filesystem>
#include <fstream>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "daemon/climate/calibration.h"
#include "daemon/crops.h"
#include "sensors/channel.h"
#include "tests/support/sample_store.h"
#include "tests/support/scratch_folder.h"
#include "tests/tools/cli_run.h"
#include "tools/cli/calendar_words.h"
#include "tools/cli/completion_run.h"

namespace rimeward {
namespace {

using Words = std::vector<std::string>;

// The cursor stands at the end of the line; a space there begins a word.
Completions offered(const std::string& line, const Known& known = {}) {
  Words words = words_of(line);
  if (line.empty() || line.ends_with(' ')) words.emplace_back();
  return completions(cursor_place(words, words.size() - 1), known);
}

Words values(const Completions& found) {
  Words result;
  for (const Completion& one : found.values)
    result.push_back(one.value);
  return result;
}

Words in_sample_garden(const std::string& line) {
  const Garden garden = sample_garden();
  const Store store = sample_store(sample_evening());
  const CropTable crops = read_crops(std::nullopt).value();
  return values(offered(line, {.garden = &garden, .store = &store, .crops = &crops}));
}

bool has(const Words& words, const std::string& word) {
  return std::ranges::find(words, word) != words.end();
}

TEST_CASE("the verbs are offered where none is named, with what they answer") {
  const Completions all = offered("");
  REQUIRE(all.values.size() == all_verbs().size());
  CHECK(all.values.front().value == "now");
  CHECK(all.values.front().help == all_verbs().front().help);
  CHECK(values(offered("unc")) == Words{"uncover"});
  CHECK(values(offered("--config garden.toml unc")) == Words{"uncover"});
  CHECK(values(offered("xyz")).empty());
}

TEST_CASE("the options are those of the verb, without those that are given") {
  CHECK(values(offered("notices --a")) == Words{"--all"});
  CHECK(values(offered("notices --all --a")).empty());
  CHECK(has(values(offered("notices --")), "--config"));
  CHECK_FALSE(has(values(offered("notices --")), "--csv"));
  CHECK(has(values(offered("sensors --")), "--csv"));
  CHECK(values(offered("--vers")) == Words{"--version"});
  CHECK(values(offered("now --vers")).empty());
}

TEST_CASE("where no argument is to come, an empty word offers the options") {
  CHECK(has(values(offered("now ")), "--json"));
  CHECK(has(values(offered("cover north-frame 2 ")), "--json"));
  // A required one is waited for, known or not.
  CHECK(values(offered("cover ")).empty());
}

TEST_CASE("an option behind the cursor counts as given") {
  const Words words{"notices", "--", "--all"};
  CHECK_FALSE(has(values(completions(cursor_place(words, 1), {})), "--all"));
}

TEST_CASE("places are offered by id, with their names") {
  const Garden garden = sample_garden();
  const Completions found = offered("cover n", {.garden = &garden});
  REQUIRE(found.values.size() == 1);
  CHECK(found.values.front() == Completion{"north-frame", "North frame"});
  CHECK(in_sample_garden("cover ").size() == garden.places.size());
  CHECK(in_sample_garden("mute damp --place no") == Words{"north-frame"});
  CHECK(values(offered("cover n")).empty());
}

TEST_CASE("a value that stands in one word with its option is offered in that form") {
  CHECK(in_sample_garden("mute damp --place=no") == Words{"--place=north-frame"});
  CHECK(in_sample_garden("mute damp --plac=no").empty());
}

TEST_CASE("a word that bash has cut at its equals sign is put together again") {
  const Garden garden = sample_garden();
  const Known known{.garden = &garden};
  const Words cut{"mute", "damp", "--place", "=", "no"};
  CHECK(values(completions(cursor_place(cut, 4), known)) == Words{"north-frame"});
  const Words at_sign{"mute", "damp", "--place", "="};
  CHECK(values(completions(cursor_place(at_sign, 3), known)).size() ==
        garden.places.size());
  const Words config{"--config", "=", "garden.toml", "now"};
  CHECK(value_in(config, "--config") == "garden.toml");
}

TEST_CASE("sensors, batches, crops, notices and kinds are offered where they are taken") {
  CHECK(has(in_sample_garden("sensors "), "north-probe"));
  CHECK(in_sample_garden("calibrate north-p") == Words{"north-probe"});
  CHECK(in_sample_garden("batch move ch") == Words{"chillies"});
  CHECK(in_sample_garden("warmth li") == Words{"little-gems"});
  CHECK(in_sample_garden("batch add chill") == Words{"chilli"});
  CHECK(in_sample_garden("done ") == Words{"4", "5"});
  CHECK(has(in_sample_garden("mute "), "damp"));
}

TEST_CASE("a verb's step decides which options and arguments it takes") {
  CHECK(in_sample_garden("batch ") == Words{"add", "list", "move", "finish"});
  CHECK(has(in_sample_garden("batch add chilli --"), "--sown"));
  CHECK_FALSE(has(in_sample_garden("batch add chilli --"), "--on"));
  CHECK(in_sample_garden("batch move chillies so") == Words{"south-frame"});
  CHECK(in_sample_garden("batch finish chillies so").empty());
  CHECK(has(in_sample_garden("calibrate north-probe ice --"), "--wait"));
  CHECK_FALSE(has(in_sample_garden("calibrate north-probe ice --"), "--salt"));
}

TEST_CASE("files are left to the shell") {
  CHECK(offered("--config ").files);
  CHECK(offered("rehearse ").files);
  CHECK(offered("rehearse data.csv --nights ").files);
  CHECK_FALSE(offered("now ").files);
  CHECK(values(offered("--config ")).empty());
}

TEST_CASE("every day that is offered is understood") {
  const std::chrono::sys_days today{std::chrono::year{2026} / 4 / 12};
  const Words days = in_sample_garden("water yard --at ");
  CHECK(days.size() >= 2);
  for (const std::string& day : days)
    CHECK(day_named(day, today).has_value());
}

TEST_CASE("words of an argument that takes the rest are offered one by one") {
  const Parameter days{.name = "DAYS",
                       .value = "",
                       .help = "",
                       .offers = Offers::kDays,
                       .takes_rest = true};
  CursorPlace place{.verb = find_verb("now"), .typed = "l", .value = days};
  CHECK(values(completions(place, {})) == Words{"last"});
  place.before = "last ";
  place.typed = "";
  const Words seconds = values(completions(place, {}));
  CHECK(seconds == Words{"week", "month", "year"});
  const std::chrono::sys_days today{std::chrono::year{2026} / 4 / 12};
  for (const std::string& second : seconds)
    CHECK(days_named("last " + second, today).has_value());
}

TEST_CASE("the words that a parameter lists are those that its verb knows") {
  const auto words_for = [](const char* verb, std::string_view name) {
    const auto parameters = find_verb(verb)->details.parameters;
    return words_of(
        std::string(std::ranges::find(parameters, name, &Parameter::name)->words));
  };
  Words salts;
  for (const Salt& salt : all_salts())
    salts.emplace_back(salt.name);
  CHECK(words_for("calibrate", "--salt") == salts);
  for (const std::string& name : words_for("calibrate", "--channel"))
    CHECK(channel_named(name).has_value());
  for (const std::string& step : words_for("batch", "STEP")) {
    const Reply reply = run_client({"batch", step});
    CHECK(reply.trouble.find("no step") == std::string::npos);
  }
  for (const std::string& method : words_for("calibrate", "METHOD")) {
    const Reply reply = run_client({"calibrate", "north-probe", method});
    CHECK(reply.trouble.find("no method") == std::string::npos);
  }
}

TEST_CASE("the lines for the shell hold nothing that a shell or a terminal would obey") {
  Completions found;
  found.values = {{"yard", "The \x1b[2Jyard\twith\na trap"},
                  {"ya rd", ""},
                  {"$(reboot)", ""},
                  {"a;b", ""},
                  {"\x1b[2J", ""},
                  {"", "nothing"},
                  {"12", ""}};
  CHECK(completion_lines(found, {}) ==
        "yard\tThe \\x1b[2Jyard\\x09with\\x0aa trap\n12\n:done\n");
  found.values.clear();
  found.files = true;
  CHECK(completion_lines(found, {}) == ":files\n");
}

TEST_CASE("settings and store are found by the line, and what is wrong is not told") {
  const ScratchFolder folder;
  const std::filesystem::path file = folder.path() / "garden.toml";
  std::ofstream(file) << "[garden]\nname = \"G\"\nlatitude = 48.4\nlongitude = 9.5\n"
                         "time_zone = \"Europe/Berlin\"\n[[place]]\nid = \"yard\"\n"
                         "kind = \"outdoors\"\n[[sensor]]\nid = \"probe\"\nplace = "
                         "\"yard\"\ntopic = \"garden/yard\"\n";
  const auto lines = [](Words words) { return complete_line(words, {}); };
  CHECK(lines({"3", "--config", file.string(), "cover", ""}) == "yard\tYard\n:done\n");
  CHECK(lines({"1", "cover", "", "--config=" + file.string()}) == "yard\tYard\n:done\n");
  CHECK(lines({"3", "--config", file.string() + "x", "cover", ""}) == ":done\n");
  CHECK(lines({"3", "--config", folder.path().string(), "cover", ""}) == ":done\n");
  CHECK(lines({"3", "--config", "/dev/stdin", "cover", ""}) == ":done\n");
  std::ofstream(folder.path() / "bad.db") << "no store, only a line of text";
  CHECK(lines({"5", "--config", file.string(), "--store",
               (folder.path() / "bad.db").string(), "done", ""}) == ":done\n");
  std::ofstream(file) << "[garden\n";
  CHECK(lines({"3", "--config", file.string(), "cover", ""}) == ":done\n");
}

TEST_CASE("a line that no shell would send is answered all the same") {
  CHECK(complete_line({}, {}).ends_with(":done\n"));
  for (const Words& words : std::vector<Words>{{"x"}, {"-1", "now"}, {"99", "now"}}) {
    CHECK(complete_line(words, {}).ends_with(":done\n"));
  }
}

}  // namespace
}  // namespace rimeward
