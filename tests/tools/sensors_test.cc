#include <chrono>
#include <string>

#include <doctest/doctest.h>
#include <nlohmann/json.hpp>

#include "daemon/settings.h"
#include "tests/support/sample_store.h"
#include "tests/tools/cli_run.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;
using nlohmann::json;

json answer_of(const std::string& command) {
  const Reply reply = run_client(words_of(command + " --json"));
  REQUIRE(reply.status == 0);
  return json::parse(reply.text);
}

TEST_CASE("sensors as JSON says of each what is known, and null of what is not") {
  const json sensors = answer_of("sensors").at("sensors");
  REQUIRE(sensors.size() == sample_garden().sensors.size());
  const json& glass = sensors.at(0);
  CHECK(glass.at("sensor") == "glass-probe");
  CHECK(glass.at("format") == "json");
  CHECK(glass.at("format_found") == true);
  CHECK(glass.at("usual_gap_seconds") == 600);
  CHECK(glass.at("battery").at("value") == 84.0);
  CHECK(glass.at("doubts").at(1).at("reason") == "range");
  CHECK(glass.at("doubts").at(1).at("count") == 5);
  const json& north = sensors.at(1);
  REQUIRE(north.at("corrections").size() == 2);
  CHECK(north.at("corrections").at(1).at("offset") == -0.43);
  CHECK(north.at("corrections").at(1).at("until").is_null());
  const json& never = sensors.back();
  CHECK(never.at("heard_at").is_null());
  CHECK(never.at("usual_gap_seconds").is_null());
  CHECK(never.at("battery").is_null());
  CHECK(never.at("silent") == false);
}

TEST_CASE("one sensor as JSON has its last doubtful readings and its facts") {
  const json glass = answer_of("sensors glass-probe");
  REQUIRE(glass.at("last_doubtful").size() == 6);
  CHECK(glass.at("last_doubtful").at(0).at("reason") == "jump");
  CHECK(glass.at("last_doubtful").at(0).at("value") == 41.5);
  CHECK(glass.at("facts").at("format") == "json");
}

TEST_CASE("what is heard as JSON has lines that the settings take") {
  const json heard = answer_of("sensors --heard");
  CHECK(heard.at("listen").at(0) == "garden/#");
  REQUIRE(heard.at("heard").size() == 6);
  const std::string garden =
      "[garden]\nname = \"x\"\nlatitude = 48.41\nlongitude = 9.52\n"
      "time_zone = \"Europe/Berlin\"\n[[place]]\nid = \"glasshouse\"\nkind = \"bed\"\n"
      "[[place]]\nid = \"north-frame\"\nkind = \"bed\"\n[[place]]\nid = \"pea-bed\"\n"
      "kind = \"bed\"\n[[place]]\nid = \"yard\"\nkind = \"bed\"\n";
  int readable = 0;
  for (const json& each : heard.at("heard")) {
    const auto lines = each.at("settings").get<std::string>();
    CHECK(lines.empty() == !each.at("readable").get<bool>());
    if (lines.empty()) continue;
    CAPTURE(lines);
    CHECK(read_garden_text(garden + lines, "garden.toml"));
    ++readable;
  }
  CHECK(readable == 5);
}

TEST_CASE("a store that holds nothing yet answers for every sensor") {
  const Garden garden = sample_garden();
  Store store = Store::in_memory();
  for (const char* command : {"sensors", "sensors glass-probe", "sensors --heard",
                              "sensors --csv", "calibrate glass-probe list"}) {
    CAPTURE(command);
    const Reply reply = run_client_on(store, garden, words_of(command), {});
    CHECK(reply.status == 0);
    CHECK(reply.text.find("nan") == std::string::npos);
  }
  const Reply text = run_client_on(store, garden, words_of("sensors"), {});
  CHECK(text.text.find("glass-probe has never been heard") != std::string::npos);
  for (const char* command :
       {"calibrate glass-probe ice", "calibrate glass-probe offset --by 1 --yes",
        "calibrate glass-probe salt --salt sodium-chloride --at 20"}) {
    CAPTURE(command);
    CHECK(run_client_on(store, garden, words_of(command), {}).status == 2);
  }
  CHECK(store.actions_after(0).empty());
}

TEST_CASE("what outsiders send is shown, not obeyed") {
  const Garden garden = sample_garden();
  Store store = sample_store(sample_evening());
  Changes changes;
  changes.now = sample_evening();
  const std::string bad = "\x1b]0;title\a\x1b[2J\n";
  const Instant at = sample_evening() - 1min;
  changes.heard["garden/" + bad] = HeardRow{.topic = "garden/" + bad,
                                            .first_at = at,
                                            .last_at = at,
                                            .count = 1,
                                            .payload = "{\"temperature\":1}"};
  changes.heard["garden/z"] = HeardRow{
      .topic = "garden/z", .first_at = at, .last_at = at, .count = 1, .payload = bad};
  changes.heard["garden/zz"] =
      HeardRow{.topic = "garden/zz",
               .first_at = at,
               .last_at = at,
               .count = 1,
               .payload = "{\"\\u001b[2J\\u202e\":{\"temp\":{\"x\":1}}}"};
  changes.facts[{"glass-probe", bad}] = {"glass-probe", bad, bad};
  changes.facts[{"bed-probe", "format?"}] = {"bed-probe", "format?", bad};
  changes.doubtful.push_back({at, 1, 99.0, Doubt::kRange, bad});
  store.commit(changes);
  for (const char* command :
       {"sensors", "sensors glass-probe", "sensors bed-probe", "sensors --heard"}) {
    for (const char* format : {"", " --json", " --csv"}) {
      CAPTURE(command);
      const Reply reply =
          run_client_on(store, garden, words_of(std::string(command) + format), {});
      for (const std::string& text : {reply.text, reply.trouble}) {
        CHECK(text.find('\x1b') == std::string::npos);
        CHECK(text.find('\a') == std::string::npos);
        if (std::string(format) != " --json") {
          CHECK(text.find("\xe2\x80\xae") == std::string::npos);
        }
      }
    }
  }
}

}  // namespace
}  // namespace rimeward
