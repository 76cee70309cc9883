#include <algorithm>
#include <string>
#include <vector>

#include <doctest/doctest.h>
#include <nlohmann/json.hpp>

#include "tests/support/sample_store.h"
#include "tests/tools/cli_run.h"
#include "tools/cli/words.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;
using nlohmann::json;

json answer_of(const std::string& command, const RunIn& in = {}) {
  const Reply reply = run_client(words_of(command + " --json"), in);
  REQUIRE(reply.status == 0);
  return json::parse(reply.text);
}

std::vector<std::string> members_of(const json& object) {
  std::vector<std::string> names;
  for (const auto& [name, value] : object.items())
    names.push_back(name);
  return names;
}

bool has_all(const json& object, const std::vector<std::string>& names) {
  const std::vector<std::string> there = members_of(object);
  return std::ranges::all_of(names, [&there](const std::string& name) {
    return std::ranges::find(there, name) != there.end();
  });
}

TEST_CASE("every JSON answer says of what garden and time it is") {
  for (const char* command : {"", "now", "tonight", "week", "notices", "done 4",
                              "cover yard", "uncover yard"}) {
    CAPTURE(command);
    const json answer = answer_of(command);
    CHECK(answer.at("garden") == "Hochfeld school garden");
    CHECK(answer.at("now") == "2026-04-12T16:40:00Z");
    CHECK(answer.at("now_local") == "2026-04-12 18:40");
  }
}

TEST_CASE("now as JSON has each place's air, trend and silence") {
  const json places = answer_of("now").at("places");
  REQUIRE(places.size() == 5);
  CHECK(has_all(places.front(), {"place", "name", "temperature_celsius",
                                 "trend_celsius_per_hour", "humidity_percent", "heard_at",
                                 "heard_local", "silent", "cover_layers"}));
  CHECK(places.at(1).at("temperature_celsius") == 11.1);
  CHECK(places.at(2).at("humidity_percent").is_null());
  CHECK(places.at(2).at("cover_layers") == 2);
  CHECK(places.at(3).at("silent") == true);
  CHECK(places.at(3).at("trend_celsius_per_hour").is_null());
}

TEST_CASE("tonight as JSON has the outlook, the odds and the record") {
  const json answer = answer_of("tonight");
  CHECK(answer.at("night") == "2026-04-13");
  const json frame = answer.at("places").at(1);
  CHECK(has_all(frame,
                {"low_celsius", "low10_celsius", "low90_celsius", "odds_below_keep_above",
                 "issued_at", "issue", "advice", "falls_below_at", "notices", "record"}));
  CHECK(frame.at("issue") == "afternoon");
  // Issued at -0.6 with odds of 0.841; since then the frame has kept a little warmer than
  // its course.
  CHECK(frame.at("low_celsius") > -0.6);
  CHECK(frame.at("low_celsius") < 0.0);
  CHECK(frame.at("odds_below_keep_above") < 0.841);
  CHECK(frame.at("odds_below_keep_above") > 0.7);
  CHECK(frame.at("low_local") == "2026-04-13 06:36");
  CHECK(frame.at("rests_on").is_null());
  const json layers = frame.at("under_layers");
  REQUIRE(layers.size() == 3);
  CHECK(layers.at(0).at("low_celsius") == frame.at("low_celsius"));
  // One layer of light fleece adds 1 K by the low end of the published figures.
  CHECK(layers.at(1).at("low_celsius").get<double>() ==
        doctest::Approx(frame.at("low_celsius").get<double>() + 1.0));
  CHECK(layers.at(2).at("odds_below_keep_above") <
        layers.at(1).at("odds_below_keep_above"));
  // Half-hours from the newest reading, of 18:30 local time, until two hours after
  // sunrise.
  CHECK(frame.at("course").size() == 29);
  CHECK(frame.at("course").at(0).at("at") == "2026-04-12T16:30:00Z");
  CHECK(frame.at("course").at(28).at("at") == "2026-04-13T06:30:00Z");
  CHECK(frame.at("notices").at(0).at("id") == 4);
  CHECK(frame.at("record").at("nights") == 8);
  // The errors written into the sample store have a mean of 8.3 / 8.
  CHECK(frame.at("record").at("mean_error_celsius").get<double>() ==
        doctest::Approx(8.3 / 8).epsilon(0.001));
  CHECK(answer.at("places").at(3).at("low_celsius").is_null());
  CHECK(answer.at("places").at(4).at("odds_below_keep_above").is_null());
}

TEST_CASE("notices as JSON are apart by open and closed") {
  const json answer = answer_of("notices");
  REQUIRE(answer.at("open").size() == 2);
  REQUIRE(answer.at("closed").size() == 3);
  CHECK(answer.at("open").at(0).at("deadline_local") == "19:35");
  CHECK(answer.at("closed").at(0).at("id") == 3);
}

TEST_CASE("more than ten notices are over only with --all") {
  Store store = sample_store(sample_evening());
  Changes changes;
  changes.now = sample_evening();
  for (NoticeId id = 6; id <= 20; ++id) {
    NoticeRow row = store.notice(1).value();
    row.id = id;
    changes.notices[id] = row;
  }
  store.commit(changes);
  const Garden garden = sample_garden();
  const auto closed = [&](const std::string& command) {
    return json::parse(run_client_on(store, garden, words_of(command), {}).text)
        .at("closed")
        .size();
  };
  CHECK(closed("notices --json") == 10);
  CHECK(closed("notices --all --json") == 18);
}

TEST_CASE("a week's low is of the day that began on the date before") {
  // The night from the 10th to the 11th: its low, read at six on the 11th, is shown on
  // the 11th, and the afternoon of the 11th too.
  const json day =
      answer_of("week --from 2026-04-11 --to 2026-04-11 --place yard").at("days").at(0);
  CHECK(day.at("low").at("at_local") == "2026-04-11 06:00");
  CHECK(day.at("high").at("at_local") == "2026-04-11 15:00");
  CHECK(day.at("low").at("hours_covered") == 24);
}

TEST_CASE("what the gardener says stands in the store, for the daemon to take") {
  Store store = sample_store(sample_evening());
  const Garden garden = sample_garden();
  CHECK(run_client_on(store, garden, words_of("cover north-frame 2"), {}).status == 0);
  CHECK(run_client_on(store, garden, words_of("uncover south-frame"), {}).status == 0);
  CHECK(run_client_on(store, garden, words_of("done 4"), {}).status == 0);
  CHECK(run_client_on(store, garden, words_of("done 1"), {}).status == 1);
  CHECK(run_client_on(store, garden, words_of("cover attic"), {}).status == 2);
  const std::vector<ActionRow> actions = store.actions_after(0);
  REQUIRE(actions.size() == 3);
  CHECK(actions[0].verb == "cover");
  CHECK(actions[0].place == "north-frame");
  CHECK(actions[0].layers == 2);
  CHECK(actions[0].at == sample_evening());
  CHECK(actions[1].verb == "uncover");
  CHECK(actions[1].place == "south-frame");
  CHECK(actions[2].verb == "done");
  CHECK(actions[2].notice == 4);
}

TEST_CASE("a daemon that has not written for over five minutes is said to be down") {
  Store store = sample_store(sample_evening());
  const Garden garden = sample_garden();
  RunIn in;
  in.now = sample_evening() + 5min;
  const std::string up = run_client_on(store, garden, words_of("cover yard"), in).text;
  CHECK(up.find("rimewardd seems not to run") == std::string::npos);
  in.now += 1s;
  const std::string down = run_client_on(store, garden, words_of("cover yard"), in).text;
  CHECK(down.find("rimewardd seems not to run") != std::string::npos);
  Store young = Store::in_memory();
  const std::string first = run_client_on(young, garden, words_of("cover yard"), in).text;
  CHECK(first.find("has taken in no reading yet: it takes this with the first") !=
        std::string::npos);
}

TEST_CASE("an empty store answers every verb without a number") {
  const Garden garden = sample_garden();
  Store store = Store::in_memory();
  for (const char* verb : {"", "now", "tonight", "week", "notices"}) {
    CAPTURE(verb);
    const Reply text = run_client_on(store, garden, words_of(verb), {});
    CHECK(text.status == 0);
    CHECK(text.text.find("nan") == std::string::npos);
    const std::string command = std::string(verb) + " --json";
    const Reply reply = run_client_on(store, garden, words_of(command), {});
    CHECK(json::accept(reply.text));
  }
  const Reply now = run_client_on(store, garden, words_of("now"), {});
  CHECK(now.text.find("never") != std::string::npos);
}

TEST_CASE("where the sun does not set there is no outlook, and tonight says so") {
  Garden garden = sample_garden();
  garden.position = {.latitude = 78.2, .longitude = 15.6};
  Store store = sample_store(sample_evening());
  RunIn in;
  in.now = Instant{std::chrono::sys_days{std::chrono::year{2026} / 6 / 21}} + 20h;
  const Reply reply = run_client_on(store, garden, words_of("tonight"), in);
  CHECK(reply.text.find("no outlook: the sun does not set") != std::string::npos);
}

TEST_CASE("a garden in Fahrenheit reads in Fahrenheit, its JSON in Celsius") {
  Garden garden = sample_garden();
  garden.units = TemperatureUnit::kFahrenheit;
  Store store = sample_store(sample_evening());
  const std::string text = run_client_on(store, garden, words_of("now"), {}).text;
  CHECK(text.find("air °F") != std::string::npos);
  CHECK(text.find("52.0") != std::string::npos);  // 11.1 degrees C: 11.1 * 9 / 5 + 32
  const json answer =
      json::parse(run_client_on(store, garden, words_of("now --json"), {}).text);
  CHECK(answer.at("places").at(1).at("temperature_celsius") == 11.1);
}

TEST_CASE("a name with escape sequences is shown, not obeyed, by every verb") {
  Garden garden = sample_garden();
  garden.name = "\x1b]0;title\a";
  garden.places[1].name = "North\x1b[2J\nframe";
  Store store = sample_store(sample_evening());
  Changes changes;
  changes.now = sample_evening();
  NoticeRow row = store.notice(4).value();
  row.title = "\x1b[8mhidden";
  row.body = "line\x1b[1A";
  changes.notices[row.id] = row;
  store.commit(changes);
  for (const char* command :
       {"", "now", "tonight", "week", "notices", "done 4", "cover north-frame"}) {
    CAPTURE(command);
    const Reply reply = run_client_on(store, garden, words_of(command), {});
    CHECK(reply.status == 0);
    CHECK(reply.text.find('\x1b') == std::string::npos);
    CHECK(reply.text.find('\a') == std::string::npos);
  }
}

TEST_CASE("a number is never minus nought") {
  CHECK(number(Celsius{-0.04}, TemperatureUnit::kCelsius) == "0.0");
  CHECK(number(Celsius{-17.79}, TemperatureUnit::kFahrenheit) == "0.0");
  CHECK(signed_number(Kelvins{-0.04}, TemperatureUnit::kCelsius) == "+0.0");
}

TEST_CASE("a date is read as it is written and no other way") {
  CHECK(date_from_text("2024-02-29").has_value());
  for (const char* text : {"2026-02-29", "2026-4-12", "12.04.2026", "2026-04-12T00:00Z",
                           "+026-04-12", "2026-04-1 ", ""}) {
    CAPTURE(text);
    CHECK_FALSE(date_from_text(text).has_value());
  }
}

}  // namespace
}  // namespace rimeward
