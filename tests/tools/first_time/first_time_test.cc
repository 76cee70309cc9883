// `rimeward first-time` with somebody who answers by a script.

#include "tools/cli/first_time/first_time.h"

#include <algorithm>
#include <deque>
#include <filesystem>
#include <fstream>
#include <sstream>
#include <string>

#include <doctest/doctest.h>
#include <nlohmann/json.hpp>

#include "daemon/settings.h"
#include "tests/support/scratch_folder.h"
#include "tests/tools/first_time/first_time_person.h"

namespace rimeward {
namespace {

namespace fs = std::filesystem;

std::string text_of(const fs::path& file) {
  std::ifstream stream(file, std::ios::binary);
  std::ostringstream text;
  text << stream.rdbuf();
  return text.str();
}

bool has(const std::string& text, std::string_view part) {
  return text.find(part) != std::string::npos;
}

// Without the screen's line breaks.
std::string unwrapped(const std::string& text) {
  std::string result;
  for (const char letter : text) {
    const bool blank = letter == ' ' || letter == '\n';
    if (!blank) {
      result += letter;
    } else if (!result.ends_with(' ')) {
      result += ' ';
    }
  }
  return result;
}

Garden garden_in(const fs::path& file) {
  SettingsOutcome garden = read_garden(file);
  if (!garden) {
    for (const std::string& mistake : garden.error())
      MESSAGE(mistake);
  }
  REQUIRE(garden);
  return *garden;
}

const std::deque<std::string> kSite{
    "Hochfeld school garden", "48.41 N 9.52 E", "", "", "", ""};
const std::deque<std::string> kOnePlace{"North frame", "", "half-hardy", "", ""};
const std::deque<std::string> kBroker{"", "", ""};
const std::deque<std::string> kListen{"30 s", ""};

std::deque<std::string> in_turn(std::initializer_list<std::deque<std::string>> parts) {
  std::deque<std::string> answers;
  for (const auto& part : parts)
    answers.insert(answers.end(), part.begin(), part.end());
  return answers;
}

// Up to the first message that was heard.
std::deque<std::string> heard_by() {
  return in_turn({kSite, kOnePlace, kBroker, kListen});
}

void hear(SetUp& set_up, std::string topic, std::string payload) {
  set_up.daemon.lines.push_back(message_line(std::move(topic), std::move(payload)));
}

TEST_CASE("first-time writes what was answered and heard") {
  const ScratchFolder folder;
  const fs::path file = folder / "garden.toml";
  SetUp set_up;
  hear(set_up, "garden/north-frame/climate", R"({"temperature":3.1,"humidity":81})");
  hear(set_up, "garden/yard/temperature", "2.4");
  set_up.person.answers =
      in_turn({kSite,
               {"North frame", "", "half-hardy", "", "Yard", "", "", ""},
               kBroker,
               kListen,
               {"", ""},           // the frame's climate, by the names that are offered
               {"Yard", "probe"},  // the yard's temperature
               {"yes"}});
  const Reply reply = set_up.run(file);
  CAPTURE(set_up.person.seen);
  CAPTURE(reply.trouble);
  REQUIRE(reply.status == 0);
  CHECK(set_up.person.answers.empty());

  const Garden garden = garden_in(file);
  CHECK(garden.name == "Hochfeld school garden");
  CHECK(garden.position.latitude == 48.41);
  CHECK(garden.position.longitude == 9.52);
  CHECK(garden.time_zone == "Europe/Berlin");
  CHECK(garden.language == "en");
  REQUIRE(garden.places.size() == 2);
  CHECK(garden.places[0].id == "north-frame");
  CHECK(garden.places[0].kind == PlaceKind::kFrame);
  CHECK(garden.places[0].keep_above == Celsius{1});
  CHECK(garden.places[0].vent_above == Celsius{22});
  CHECK(garden.places[1].id == "yard");
  CHECK(garden.places[1].kind == PlaceKind::kOutdoors);
  CHECK_FALSE(garden.places[1].keep_above.has_value());
  REQUIRE(garden.sensors.size() == 2);
  CHECK(garden.sensors[0].id == "north-frame-climate");
  CHECK(garden.sensors[0].place == "north-frame");
  CHECK(garden.sensors[0].format == "json");
  CHECK(garden.sensors[1].id == "probe");
  CHECK(garden.sensors[1].place == "yard");
  CHECK(garden.sensors[1].format == "number");
  CHECK(garden.sensors[1].payload.lone_channel == Channel::kAirTemperature);
  CHECK(garden.broker.address == "mqtt://127.0.0.1:1883");
  CHECK(garden.broker.listen == std::vector<std::string>{"garden/#"});

  // What was shown is what was written, and who may read it.
  CHECK(has(set_up.person.seen, text_of(file)));
  CHECK((fs::status(file).permissions() & fs::perms::all) == fs::perms(0644));
  CHECK(has(set_up.person.seen,
            "garden/north-frame/climate: temperature 3.1 °C, humidity 81 %"));
  CHECK(has(set_up.person.seen, "48.41 north, 9.52 east."));
  CHECK(has(set_up.person.seen, "There the sun rises at 06:37 and sets at 20:08 today."));
  CHECK(has(reply.text, "A forecast is never a promise"));
  CHECK(has(reply.text, "check"));
}

TEST_CASE("first-time refuses at once where there is a file, and leaves it as it is") {
  const ScratchFolder folder;
  const fs::path file = folder / "garden.toml";
  std::ofstream(file) << "# mine\n";
  SetUp set_up;
  const Reply reply = set_up.run(file);
  CHECK(reply.status == 1);
  CHECK(set_up.person.seen.empty());
  CHECK(has(reply.trouble, file.string() + " is there already"));
  CHECK(has(reply.trouble, "--config OTHER"));
  CHECK(has(reply.trouble, "rimeward --config " + file.string() + " check"));
  CHECK(text_of(file) == "# mine\n");

  // A link that leads nowhere is something, too.
  const fs::path link = folder / "link.toml";
  fs::create_symlink(folder / "nowhere", link);
  CHECK(set_up.run(link).status == 1);
  CHECK_FALSE(fs::exists(folder / "nowhere"));
}

TEST_CASE("a file that came while the questions were answered is not written over") {
  const ScratchFolder folder;
  const fs::path file = folder / "garden.toml";
  const fs::path other = folder / "new" / "other.toml";
  SetUp set_up;
  set_up.person.answers =
      in_turn({kSite, kOnePlace, kBroker, {"-"}, {"yes", other.string()}});
  // Written by somebody else before the last question.
  set_up.daemon.found = false;
  Conversation conversation = set_up.person.conversation();
  const auto ask = conversation.ask;
  conversation.ask = [&](std::string_view question) {
    if (has(std::string(question), "Write it to")) std::ofstream(file) << "# theirs\n";
    return ask(question);
  };
  Surroundings around;
  around.config_file = file;
  around.system_now = april_evening();
  around.conversation = &conversation;
  const Reply reply = rimeward::set_up(
      around, {.habits = set_up.habits, .follow = set_up.daemon.follower()});
  CAPTURE(set_up.person.seen);
  CHECK(reply.status == 0);
  CHECK(has(set_up.person.seen, "is there already"));
  CHECK(text_of(file) == "# theirs\n");
  CHECK(garden_in(other).name == "Hochfeld school garden");
}

TEST_CASE("whoever stops at any question has written nothing") {
  SetUp whole;
  hear(whole, "garden/north-frame/climate", R"({"temperature":3.1})");
  const std::deque<std::string> answers =
      in_turn({heard_by(), {"", ""}});  // all but the last
  for (std::size_t given = 0; given <= answers.size(); ++given) {
    CAPTURE(given);
    const ScratchFolder folder;
    const fs::path file = folder / "deep" / "garden.toml";
    SetUp set_up;
    set_up.daemon = whole.daemon;
    set_up.person.answers.assign(answers.begin(),
                                 answers.begin() + static_cast<std::ptrdiff_t>(given));
    const Reply reply = set_up.run(file);
    CHECK(reply.status == 1);
    CHECK(reply.trouble == "nothing was written");
    CHECK_FALSE(fs::exists(folder / "deep"));
  }
}

TEST_CASE("a no to the last question writes nothing") {
  const ScratchFolder folder;
  const fs::path file = folder / "garden.toml";
  SetUp set_up;
  set_up.person.answers = in_turn({kSite, kOnePlace, kBroker, {"-"}, {"no"}});
  const Reply reply = set_up.run(file);
  CHECK(reply.status == 1);
  CHECK(reply.trouble == "nothing was written");
  CHECK_FALSE(fs::exists(file));
}

TEST_CASE("an interrupt while it listens writes nothing and tells the daemon to end") {
  const ScratchFolder folder;
  SetUp set_up;
  set_up.person.interrupts_waits = true;
  hear(set_up, "garden/north-frame/climate", R"({"temperature":3.1})");
  set_up.person.answers = heard_by();
  const Reply reply = set_up.run(folder / "garden.toml");
  CHECK(reply.trouble == "nothing was written");
  CHECK_FALSE(has(set_up.person.seen, "garden/north-frame/climate"));
}

TEST_CASE("a bad answer is told why and asked again, and ? explains") {
  const ScratchFolder folder;
  const fs::path file = folder / "garden.toml";
  SetUp set_up;
  set_up.person.answers =
      in_turn({{"", "?", "Hochfeld \x1b[2J", "Hochfeld \xff", "Hochfeld"},
               {"somewhere", "95, 9.52", "48.41, 9.52"},
               {"Berlin", "Europe/Berln", ""},
               {"perhaps", "no", "48.41 S 9.52 E", "", "yes"},
               {"kelvin", ""},
               {"fr", "de"},
               {"", "-", "North frame"},
               {"shed", ""},
               {"tropical", "300", "5 F", "5,5"},
               {"5", "24"},
               {"?", ""},
               {"http://127.0.0.1", "a@b", "127.0.0.1:1883"},
               {"warden", ""},
               {"garden/#/x", "garden/#, yard/#"},
               {"soon", "2 days", "-"},
               {"yes"}});
  const Reply reply = set_up.run(file);
  const std::string& seen = set_up.person.seen;
  CAPTURE(seen);
  REQUIRE(reply.status == 0);
  CHECK(set_up.person.answers.empty());
  for (const std::string_view words : {
           "This needs an answer",
           "As it is to stand in notices",
           "has characters that no text of the settings may have",
           "\"somewhere\" is not two numbers",
           "Latitude 95 lies beyond the pole",
           "did you mean \"Europe/Berlin\"?",
           "Then both once more.",
           "\"kelvin\" is none of celsius, fahrenheit",
           "\"fr\" is none of en, de",
           "A garden has at least one place",
           "\"shed\" is none of greenhouse",
           "\"tropical\" is none of batches, tender, half-hardy, hardy",
           "is no temperature that plants are kept at",
           "is on the other scale",
           "Kept above 5.5 °C.",
           "5 is not above 5.5 °C",
           "A place is a spot with a climate of its own",
           "Address: expected mqtt://",
           "has a user in it",
           "is no topic filter",
           "Expected a duration",
           "is not between a second and an hour",
       }) {
    CAPTURE(words);
    CHECK(has(unwrapped(seen), words));
  }
  CHECK(seen.find('\x1b') == seen.find("\x1b[2J"));  // only as it was typed
  const Garden garden = garden_in(file);
  CHECK(garden.position.latitude == -48.41);
  CHECK(garden.language == "de");
  CHECK(garden.places[0].keep_above == Celsius{5.5});
  CHECK(garden.places[0].vent_above == Celsius{24});
  CHECK(garden.broker.user == "warden");
  CHECK(garden.broker.password_file == "/etc/rimeward/broker-password");
  CHECK(garden.broker.listen == std::vector<std::string>{"garden/#", "yard/#"});
}

TEST_CASE("a clock that disagrees with the sun is told") {
  const ScratchFolder folder;
  SetUp set_up;
  // East for west: the sun would stand highest at night in the zone of the machine.
  set_up.habits.time_zone = "America/New_York";
  set_up.person.answers = {"Hochfeld", "40.7, 74.0", ""};
  static_cast<void>(set_up.run(folder / "garden.toml"));
  CAPTURE(set_up.person.seen);
  CHECK(has(set_up.person.seen, "east and west may be swapped"));
  CHECK(has(set_up.person.seen, "Is that about right? [no]"));
}

TEST_CASE("a broker that gives trouble is told, and the set-up goes on without it") {
  const ScratchFolder folder;
  const fs::path file = folder / "garden.toml";
  SetUp set_up;
  set_up.daemon.lines = {R"({"trouble": "mqtt://127.0.0.1:1883: could not connect"})"};
  set_up.person.answers = in_turn({kSite,
                                   kOnePlace,
                                   kBroker,
                                   {"", "again", "other"},
                                   {"mqtts://broker.example.org:8883", "", "", ""},
                                   {"5 s", "without"},
                                   {"yes"}});
  const Reply reply = set_up.run(file);
  CAPTURE(set_up.person.seen);
  REQUIRE(reply.status == 0);
  CHECK(has(set_up.person.seen, "could not connect"));
  REQUIRE(set_up.daemon.calls.size() == 3);
  CHECK(set_up.daemon.calls[0] ==
        std::vector<std::string>{"--listen=30", "--broker=mqtt://127.0.0.1:1883",
                                 "--topics=#"});
  CHECK(set_up.daemon.calls[2] ==
        std::vector<std::string>{"--listen=5", "--broker=mqtts://broker.example.org:8883",
                                 "--topics=#"});
  const Garden garden = garden_in(file);
  CHECK(garden.broker.address == "mqtts://broker.example.org:8883");
  CHECK(garden.sensors.empty());
  CHECK(has(reply.text, "sensors --heard"));
}

TEST_CASE("without rimewardd nothing is listened to, and the rest goes on") {
  const ScratchFolder folder;
  SetUp set_up;
  set_up.daemon.found = false;
  set_up.person.answers = in_turn({kSite, kOnePlace, kBroker, {"", "yes"}});
  const Reply reply = set_up.run(folder / "garden.toml");
  CHECK(reply.status == 0);
  CHECK(has(set_up.person.seen, "rimewardd is neither beside this program"));
}

TEST_CASE("what rimewardd prints beside is told when it is not connected") {
  const ScratchFolder folder;
  SetUp set_up;
  set_up.daemon.lines = {"The following argument was not expected: --listen=30"};
  set_up.person.answers = in_turn({kSite, kOnePlace, kBroker, {""}});
  static_cast<void>(set_up.run(folder / "garden.toml"));
  CHECK(has(set_up.person.seen, "The following argument was not expected"));
}

TEST_CASE("a number of what is not said is asked for, and so are names not known") {
  const ScratchFolder folder;
  const fs::path file = folder / "garden.toml";
  SetUp set_up;
  hear(set_up, "garden/a", "57");
  hear(set_up, "garden/b", R"({"inner":{"t1":3.5,"f1":80},"n":4})");
  set_up.person.answers = in_turn({heard_by(),
                                   {"1", "hum", ""},
                                   {"", "humidity", "-", "temperature", "frame probe"},
                                   {"yes"}});
  const Reply reply = set_up.run(file);
  CAPTURE(set_up.person.seen);
  REQUIRE(reply.status == 0);
  CHECK(set_up.person.answers.empty());
  const Garden garden = garden_in(file);
  REQUIRE(garden.sensors.size() == 2);
  CHECK(garden.sensors[0].payload.lone_channel == Channel::kHumidity);
  CHECK(garden.sensors[1].id == "frame-probe");
  REQUIRE(garden.sensors[1].payload.where.size() == 2);
  CHECK(garden.sensors[1].payload.where.contains(Channel::kHumidity));
  CHECK(garden.sensors[1].payload.where.contains(Channel::kAirTemperature));
}

TEST_CASE("a topic may be left out, and all that are left") {
  const ScratchFolder folder;
  const fs::path file = folder / "garden.toml";
  SetUp set_up;
  hear(set_up, "garden/a/temperature", "3");
  hear(set_up, "garden/b/temperature", "4");
  hear(set_up, "garden/c/temperature", "5");
  hear(set_up, "garden/d/temperature", "6");
  set_up.person.answers =
      in_turn({heard_by(), {"-"}, {"shed", "north frame", ""}, {"."}, {"yes"}});
  const Reply reply = set_up.run(file);
  CAPTURE(set_up.person.seen);
  REQUIRE(reply.status == 0);
  CHECK(set_up.person.answers.empty());
  const Garden garden = garden_in(file);
  REQUIRE(garden.sensors.size() == 1);
  CHECK(garden.sensors[0].topic == "garden/b/temperature");
  CHECK(has(set_up.person.seen, "No place \"shed\""));
}

TEST_CASE("where people think in Fahrenheit a sensor is asked for its scale") {
  const ScratchFolder folder;
  const fs::path file = folder / "garden.toml";
  SetUp set_up;
  hear(set_up, "garden/north-frame/temperature", "41.5");
  set_up.person.answers = {"Hochfeld",
                           "48.41, 9.52",
                           "",
                           "",
                           "f",
                           "",
                           "North frame",
                           "",
                           "41",
                           "72",
                           "",
                           "",
                           "",
                           "",
                           "",
                           "",
                           "",
                           "no",
                           "",
                           "yes"};
  const Reply reply = set_up.run(file);
  CAPTURE(set_up.person.seen);
  REQUIRE(reply.status == 0);
  CHECK(has(set_up.person.seen, "Read as degrees Celsius, that is 106.7 °F."));
  const Garden garden = garden_in(file);
  CHECK(garden.units == TemperatureUnit::kFahrenheit);
  CHECK(garden.places[0].keep_above == Celsius{5});
  CHECK(garden.places[0].vent_above == Celsius{22.22});
  REQUIRE(garden.sensors.size() == 1);
  CHECK(garden.sensors[0].payload.scale == TemperatureScale::kFahrenheit);
}

TEST_CASE("names, topics and payloads of any bytes do no harm to screen or settings") {
  const ScratchFolder folder;
  const fs::path file = folder / "garden.toml";
  SetUp set_up;
  const std::string evil = "\"]\nkeep_above = 99\n\x1b[2J\x07";
  hear(set_up, "garden/" + evil, "3.1");
  hear(set_up, "garden/\xff\xfe", "3.1");
  hear(set_up, "garden/quote\"]/temperature", "3.1");
  hear(set_up, "garden/" + std::string("\xe2\x80\xae") + "turned/temperature", "3.1");
  hear(set_up, "garden/json", "{\"\x1b[31m\\\"]\": {\"temperature\": 3.1}}");
  hear(set_up, "garden/nonsense", evil);
  set_up.daemon.lines.push_back(std::string("\x1b[2J not JSON\0", 15));
  set_up.person.answers = in_turn({{"\"]\\ # [garden]", "48.41 N 9.52 E", "", "", "", ""},
                                   {"= \"North\" 'frame' = ", "frame", "", "",
                                    "\xe6\x97\xa5\xe6\x9c\xac", "bed", "", ""},
                                   kBroker,
                                   kListen,
                                   {"1", "", "2", ""},
                                   {"yes"}});
  const Reply reply = set_up.run(file);
  const std::string& seen = set_up.person.seen;
  CAPTURE(seen);
  REQUIRE(reply.status == 0);
  CHECK(seen.find_first_of("\x1b\x07") == std::string::npos);
  CHECK(seen.find("\xe2\x80\xae") == std::string::npos);
  const Garden garden = garden_in(file);
  CHECK(garden.name == "\"]\\ # [garden]");
  CHECK(garden.places[0].name == "= \"North\" 'frame' =");
  CHECK(garden.places[0].id == "north-frame");
  CHECK(garden.places[1].id == "place");
  for (const Sensor& sensor : garden.sensors)
    CHECK(sensor.topic.find('\n') == std::string::npos);
}

TEST_CASE("rimeward's own topics are not taken for sensors") {
  const ScratchFolder folder;
  SetUp set_up;
  hear(set_up, "rimeward/status", R"({"state":"listening"})");
  hear(set_up, "rimeward/notice/cover/north-frame", R"({"temperature":3})");
  set_up.person.answers = in_turn({heard_by(), {"yes"}});
  const Reply reply = set_up.run(folder / "garden.toml");
  CHECK(reply.status == 0);
  CHECK(has(set_up.person.seen, "Nothing was heard."));
}

TEST_CASE("as JSON the answer is a document of what was written") {
  const ScratchFolder folder;
  const fs::path file = folder / "garden.toml";
  SetUp set_up;
  set_up.format = Format::kJson;
  set_up.person.answers = in_turn({kSite, kOnePlace, kBroker, {"-"}, {"yes"}});
  const Reply reply = set_up.run(file);
  const auto document = nlohmann::json::parse(reply.text);
  CHECK(document.at("written") == file.string());
  CHECK(document.at("places") == 1);
  CHECK(document.at("sensors") == 0);
  CHECK(document.at("listen") == nlohmann::json{"garden/#"});
}

TEST_CASE("a screen without UTF-8 is sent ASCII only, and the settings mean the same") {
  const ScratchFolder folder;
  const fs::path file = folder / "garden.toml";
  SetUp set_up;
  set_up.screen.utf8 = false;
  set_up.person.answers = in_turn({{"G\xc3\xa4rtle",
                                    "48\xc2\xb0"
                                    "24'36\"N 9\xc2\xb0"
                                    "31'12\"E",
                                    "", "", "", ""},
                                   kOnePlace,
                                   kBroker,
                                   {"-"}});
  const std::size_t typed = 2;  // lines that are echoed as they were typed
  set_up.person.answers.emplace_back("yes");
  const Reply reply = set_up.run(file);
  REQUIRE(reply.status == 0);
  std::size_t others = 0;
  std::istringstream lines(set_up.person.seen + reply.text);
  for (std::string line; std::getline(lines, line);) {
    const bool ascii = std::ranges::all_of(
        line, [](char letter) { return static_cast<unsigned char>(letter) < 0x80; });
    others += ascii ? 0 : 1;
  }
  CHECK(others == typed);
  CHECK(garden_in(file).name == "G\xc3\xa4rtle");
  CHECK(garden_in(file).position.latitude == 48.41);
}

TEST_CASE("the least settings that are shown are settings") {
  CHECK(read_garden_text(least_settings(), "garden.toml"));
}

}  // namespace
}  // namespace rimeward
