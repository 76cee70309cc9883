#include "tools/cli/adoption.h"

#include <algorithm>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "daemon/settings.h"
#include "tests/support/sample_store.h"

namespace rimeward {
namespace {

const std::string kGarden = R"(
[garden]
name = "Hochfeld school garden"
latitude = 48.41
longitude = 9.52
time_zone = "Europe/Berlin"
[broker]
listen = ["#"]
[[place]]
id = "glasshouse"
kind = "greenhouse"
[[place]]
id = "frame"
kind = "frame"
[[place]]
id = "north-frame"
name = "Old Anna's frame"
kind = "frame"
[[sensor]]
id = "soil"
place = "glasshouse"
topic = "garden/glasshouse/soil"
)";

Garden garden_of(const std::string& toml) {
  SettingsOutcome outcome = read_garden_text(toml, "garden.toml");
  if (!outcome) {
    for (const std::string& mistake : outcome.error())
      MESSAGE(mistake);
  }
  REQUIRE(outcome);
  return *outcome;
}

HeardRow heard(std::string topic, std::string payload) {
  return {.topic = std::move(topic),
          .first_at = sample_evening(),
          .last_at = sample_evening(),
          .count = 1,
          .payload = std::move(payload)};
}

std::vector<Candidate> candidates_of(const Garden& garden, std::vector<HeardRow> rows) {
  std::ranges::sort(rows, {}, &HeardRow::topic);
  return candidates(garden, rows);
}

Candidate candidate_of(const Garden& garden, std::string topic, std::string payload) {
  auto found = candidates_of(garden, {heard(std::move(topic), std::move(payload))});
  REQUIRE(found.size() == 1);
  return found.front();
}

constexpr Screen kWide{.width = 80, .colour = false, .utf8 = true};
constexpr Screen kAscii{.width = 80, .colour = false, .utf8 = false};

constexpr std::string_view kClimate = R"({"temperature":3.4,"humidity":81})";

TEST_CASE("what is printed for a topic makes a sensor of it when pasted") {
  const Garden garden = garden_of(kGarden);
  const Candidate found =
      candidate_of(garden, "garden/north-frame/climate", std::string(kClimate));
  CHECK(settings_lines(found, kWide) ==
        "[[sensor]]\n"
        "id = \"north-frame-climate\"\n"
        "place = \"north-frame\"\n"
        "topic = \"garden/north-frame/climate\"\n"
        "format = \"json\"\n");
  const Garden grown = garden_of(kGarden + settings_lines(found, kWide));
  REQUIRE(grown.sensors.size() == 2);
  CHECK(grown.sensors[1].id == "north-frame-climate");
  CHECK(grown.sensors[1].place == "north-frame");
  CHECK(grown.sensors[1].topic == "garden/north-frame/climate");
  CHECK(grown.sensors[1].format == "json");
}

TEST_CASE("all that is printed can be pasted at once, whatever the topics hold") {
  const Garden garden = garden_of(kGarden);
  const std::vector<std::string> topics{
      "a",
      "/",
      "//",
      "garden/\"quoted\"",
      "garden/back\\slash",
      "garden/\" address = \"mqtt://example.org\"",
      "garden/'''",
      "garden/\"\"\"",
      "garden/c1 \xc2\x9b",
      "garden/turned \xe2\x80\xae round",
      "garden/hidden \xe2\x80\x8b\xef\xbb\xbf",
      "garden/Gew\xc3\xa4"
      "chshaus",
      "garden/\xf0\x9f\x8c\xb1",
      "garden/\xe6\xb8\xa9\xe5\xba\xa6",
      "garden/ spaces / and = signs ",
      "garden/" + std::string(200, 'x'),
      "garden/-",
      "garden/soil",
      "garden/Soil",
      "garden/SOIL",
  };
  for (const Screen& screen : {kWide, kAscii}) {
    std::vector<HeardRow> rows;
    for (const std::string& topic : topics)
      rows.push_back(heard(topic, std::string(kClimate)));
    const std::vector<Candidate> found = candidates_of(garden, rows);
    REQUIRE(found.size() == topics.size());
    std::string toml = kGarden;
    for (const Candidate& each : found) {
      CAPTURE(each.topic);
      CHECK(each.trouble == "");
      toml += settings_lines(each, screen);
    }
    const Garden grown = garden_of(toml);
    REQUIRE(grown.sensors.size() == topics.size() + 1);
    CHECK(grown.broker.address == garden.broker.address);
    for (std::size_t i = 0; i < found.size(); ++i) {
      CHECK(grown.sensors[i + 1].topic == found[i].topic);
      CHECK(grown.sensors[i + 1].id == found[i].id);
    }
  }
}

TEST_CASE("no line for the settings holds what a terminal would obey") {
  const Garden garden = garden_of(kGarden);
  for (const char* topic :
       {"garden/\xc2\x9b", "garden/\xe2\x80\xae", "garden/\xe2\x80\xa8"}) {
    const std::string lines =
        settings_lines(candidate_of(garden, topic, std::string(kClimate)), kWide);
    CAPTURE(lines);
    for (const char letter : lines)
      CHECK((letter == '\n' || static_cast<unsigned char>(letter) >= 0x20));
    CHECK(lines.find("\xe2\x80\xae") == std::string::npos);
    CHECK(std::ranges::count(lines, '\n') == 6);
  }
  const Candidate umlaut = candidate_of(garden,
                                        "garden/Gew\xc3\xa4"
                                        "chshaus",
                                        std::string(kClimate));
  CHECK(settings_lines(umlaut, kWide)
            .find("Gew\xc3\xa4"
                  "chshaus") != std::string::npos);
  for (const char letter : settings_lines(umlaut, kAscii))
    CHECK(static_cast<unsigned char>(letter) < 0x80);
}

TEST_CASE("a topic that no sensor may have is told, and gets no lines") {
  const Garden garden = garden_of(kGarden);
  for (const char* topic :
       {"garden/\xff", "garden/\xc3", "garden/a\x80", "garden/+", "garden/#",
        "garden/\xed\xa0\x80", "garden/\xe2\x80\x8b\x80", "garden/\x1b]0;title\a",
        "garden/line\n[broker]", "garden/tab\t", "garden/delete\x7f"}) {
    CAPTURE(topic);
    const Candidate found = candidate_of(garden, topic, std::string(kClimate));
    CHECK_FALSE(found.trouble.empty());
    CHECK(settings_lines(found, kWide).empty());
  }
}

TEST_CASE("an id is made of the topic's levels, and never one that is taken") {
  const Garden garden = garden_of(kGarden);
  const auto found =
      candidates_of(garden, {heard("garden/Soil", std::string(kClimate)),
                             heard("garden/soil", std::string(kClimate)),
                             heard("soil", std::string(kClimate)),
                             heard("x/\xe6\xb8\xa9", std::string(kClimate)),
                             heard("x/Gew\xc3\xa4"
                                   "chs Haus_2",
                                   std::string(kClimate))});
  std::vector<std::string> ids;
  for (const Candidate& each : found)
    ids.push_back(each.id);
  CHECK(ids == std::vector<std::string>{"soil-2", "soil-3", "soil-4", "gewaechs-haus-2",
                                        "sensor"});
}

TEST_CASE(
    "a place is the one that the topic names, else a guess that is said to be one") {
  const Garden garden = garden_of(kGarden);
  const auto place = [&](const std::string& topic) {
    const Candidate found = candidate_of(garden, topic, std::string(kClimate));
    return std::string(found.place->id) + (found.place_is_guess ? "?" : "");
  };
  CHECK(place("garden/north-frame/x") == "north-frame");
  CHECK(place("garden/North_Frame/x") == "north-frame");
  CHECK(place("garden/the-frame-probe") == "frame");
  CHECK(place("garden/old annas frame") == "frame");
  CHECK(place("garden/Old Anna's Frame") == "north-frame");
  CHECK(place("garden/glashouse/x") == "glasshouse?");
  CHECK(place("garden/elsewhere") == "glasshouse?");
  const Candidate guessed = candidate_of(garden, "garden/shed", std::string(kClimate));
  CHECK(settings_lines(guessed, kWide).find("# Its topic does not name a place") !=
        std::string::npos);
}

TEST_CASE("a bare number is of the channel that its topic names, else to be checked") {
  const Garden garden = garden_of(kGarden);
  const Candidate named = candidate_of(garden, "garden/frame/humidity", "81");
  CHECK_FALSE(named.channel_unknown);
  const std::string lines = settings_lines(named, kWide);
  CHECK(lines.find("format = \"number\"\nchannel = \"humidity\"\n") != std::string::npos);
  CHECK(lines.find('#') == std::string::npos);
  const Candidate bare = candidate_of(garden, "garden/frame/7", "9.4");
  CHECK(bare.channel_unknown);
  CHECK(settings_lines(bare, kWide)
            .find("check what it is of, such as \"humidity\".\nformat = "
                  "\"number\"\nchannel = "
                  "\"temperature\"\n") != std::string::npos);
  const Garden grown = garden_of(kGarden + settings_lines(bare, kWide));
  CHECK(grown.sensors.back().payload.lone_channel == Channel::kAirTemperature);
}

TEST_CASE("numbers under keys that nobody knows are offered by their pointers") {
  const Garden garden = garden_of(kGarden);
  const Candidate found = candidate_of(
      garden, "garden/frame/board",
      R"({"p":{"a/b~\"]":{"leaf_temp":3.5,"temp_2":4,"x":[7,1e3]}},"s":{"soil":{"tempC":9}}})");
  const std::string lines = settings_lines(found, kWide);
  CAPTURE(lines);
  CHECK(lines.find("\ntemperature = \"/p/a~1b~0\\\"]/leaf_temp\"  # 3.5\n") !=
        std::string::npos);
  CHECK(lines.find("\n# temperature = \"/p/a~1b~0\\\"]/temp_2\"  # 4\n") !=
        std::string::npos);
  CHECK(lines.find("\n# temperature = \"/p/a~1b~0\\\"]/x/1\"  # 1000\n") !=
        std::string::npos);
  const Garden grown = garden_of(kGarden + lines);
  const PayloadSpec& payload = grown.sensors.back().payload;
  REQUIRE(payload.where.size() == 2);
  CHECK(payload.where.at(Channel::kSoilTemperature) == "/s/soil/tempC");
  const auto read = decode_json({found.payload}, payload, {});
  REQUIRE(read);
  CHECK(read->samples.at(0).value == 3.5);
  CHECK(read->samples.at(1).value == 9);
}

TEST_CASE("a message that nothing can read is told with the reason") {
  const Garden garden = garden_of(kGarden);
  for (const char* payload : {"", "  ", "open", "{\"temperature\":", "{}", "[]", "null",
                              "{\"state\":\"on\"}", "\xff\xfe", "[[[[[[[[[1]]]]]]]]]"}) {
    CAPTURE(payload);
    const Candidate found = candidate_of(garden, "garden/door", payload);
    CHECK_FALSE(found.trouble.empty());
    CHECK(settings_lines(found, kWide).empty());
  }
  CHECK(
      candidate_of(garden, "garden/door", "{\"temperature\":").trouble.find("not JSON") ==
      0);
}

std::vector<HeardRow> device(const std::string& topic) {
  return {heard(topic + "/$state", "ready"),
          heard(topic + "/$description",
                R"({"homie":"5.0","version":1,"nodes":{"climate":{"properties":{)"
                R"("temperature":{"datatype":"float","unit":"°C"},)"
                R"("humidity":{"datatype":"float","unit":"%"}}}}})"),
          heard(topic + "/climate/temperature", "3.4"),
          heard(topic + "/climate/humidity", "81")};
}

TEST_CASE("the topics of one device make one sensor, on the device's topic") {
  const Garden garden = garden_of(kGarden);
  auto rows = device("homie/5/north-frame-probe");
  rows.push_back(heard("homie/5/other", std::string(kClimate)));
  const auto found = candidates_of(garden, rows);
  REQUIRE(found.size() == 2);
  const Candidate& probe = found.front();
  CHECK(probe.is_device);
  CHECK(probe.topics == 4);
  REQUIRE(probe.ways.size() == 1);
  REQUIRE(probe.ways.front().samples.size() == 2);
  CHECK(settings_lines(probe, kWide) ==
        "[[sensor]]\n"
        "id = \"north-frame-probe\"\n"
        "place = \"north-frame\"\n"
        "topic = \"homie/5/north-frame-probe\"\n"
        "format = \"homie\"\n");
  const Garden grown = garden_of(kGarden + settings_lines(probe, kWide));
  CHECK(grown.sensors.back().topic == "homie/5/north-frame-probe");
}

TEST_CASE("a device whose properties are not listened to needs a filter first") {
  Garden garden = garden_of(kGarden);
  garden.broker.listen = {"homie/5/+/+"};
  const auto found = candidates_of(garden, {heard("homie/5/probe/$state", "ready")});
  REQUIRE(found.size() == 1);
  CHECK(found.front().trouble.find("\"homie/5/probe/#\"") != std::string::npos);
  CHECK(settings_lines(found.front(), kWide).empty());
}

TEST_CASE("a device of convention 4 is known by its nodes and their properties") {
  const Garden garden = garden_of(kGarden);
  const auto found =
      candidates_of(garden, {heard("homie/board/air/$properties", "temperature"),
                             heard("homie/board/air/temperature", "3.4"),
                             heard("homie/board/air/temperature/$unit", "°C"),
                             heard("homie/board/air/temperature/$datatype", "float"),
                             heard("homie/board/$state", "ready")});
  REQUIRE(found.size() == 1);
  CHECK(found.front().topic == "homie/board");
  REQUIRE(found.front().ways.front().samples.size() == 1);
  CHECK(found.front().ways.front().samples.front().value == 3.4);
}

TEST_CASE("a device that measures one thing twice is asked by which to go") {
  const Garden garden = garden_of(kGarden);
  const auto found = candidates_of(
      garden,
      {heard("homie/board/$state", "ready"),
       heard("homie/board/$description",
             R"({"homie":"5.0","nodes":{"in":{"properties":{)"
             R"("temperature":{"datatype":"float","unit":"°C"}}},"out":{"properties":{)"
             R"("temperature":{"datatype":"float","unit":"°C"}}}}})"),
       heard("homie/board/in/temperature", "21.5"),
       heard("homie/board/out/temperature", "3.4")});
  REQUIRE(found.size() == 1);
  const std::string lines = settings_lines(found.front(), kWide);
  CAPTURE(lines);
  CHECK(lines.find("\ntemperature = \"in/temperature\"  # 21.5\n") != std::string::npos);
  CHECK(lines.find("\n# temperature = \"out/temperature\"  # 3.4\n") !=
        std::string::npos);
  const Garden grown = garden_of(kGarden + lines);
  CHECK(grown.sensors.back().payload.where.at(Channel::kAirTemperature) ==
        "in/temperature");
}

}  // namespace
}  // namespace rimeward
