#include "daemon/check.h"

#include <cstdio>
#include <fstream>
#include <memory>
#include <sstream>
#include <string>

#include <doctest/doctest.h>

#include "tests/support/broker.h"
#include "tests/support/hochfeld.h"
#include "tests/support/listener.h"
#include "tests/support/scratch_folder.h"

namespace rimeward {
namespace {

struct Said {
  bool well = false;
  std::string text;
};

Said checked(const Garden& garden, bool routes) {
  const std::unique_ptr<std::FILE, int (*)(std::FILE*)> file(std::tmpfile(),
                                                             &std::fclose);
  REQUIRE(file);
  const Zone zone = testing::berlin();
  Said said{.well = check(garden, zone, routes, file.get()), .text = {}};
  std::rewind(file.get());
  for (int c = std::getc(file.get()); c != EOF; c = std::getc(file.get()))
    said.text += static_cast<char>(c);
  return said;
}

bool has(const Said& said, const std::string& text) {
  return said.text.find(text) != std::string::npos;
}

std::string text_of(const std::filesystem::path& file) {
  std::ifstream stream(file);
  std::ostringstream text;
  text << stream.rdbuf();
  return text.str();
}

// The Hochfeld garden on a broker of its own, with a route to it and one to a program
// that writes down what it is given.
struct CheckedGarden {
  TestBroker broker;
  ScratchFolder folder;
  Garden garden = testing::hochfeld();

  CheckedGarden() {
    garden.broker = broker.settings("rimeward");
    garden.store.file = (folder / "garden.db").string();
    RouteSettings mqtt;
    mqtt.kind = "mqtt";
    RouteSettings command;
    command.kind = "command";
    command.run = {"/bin/sh", "-c", "cat > \"$0\"", written().string()};
    garden.routes = {mqtt, command};
  }

  std::filesystem::path written() const { return folder / "written"; }
};

TEST_CASE("a check without --routes sends nothing") {
  const CheckedGarden checked_garden;
  const Said said = checked(checked_garden.garden, false);
  CAPTURE(said.text);
  CHECK(said.well);
  CHECK(has(said, "ok    broker: "));
  CHECK(has(said, "ok    route mqtt-1: publishes below rimeward/notice\n"));
  CHECK(has(said, "ok    route command-2: runs /bin/sh\n"));
  CHECK_FALSE(std::filesystem::exists(checked_garden.written()));
}

TEST_CASE("a check of the routes sends by each what says that it is a trial") {
  const CheckedGarden checked_garden;
  Broker display = checked_garden.broker.settings("display");
  display.status_topic = "display/status";
  display.listen = {"rimeward/notice/#"};
  Listener listener(display);
  REQUIRE(listener.wait_for_event(LinkEvent::Kind::kConnected));

  const Said said = checked(checked_garden.garden, true);
  CAPTURE(said.text);
  CHECK(said.well);
  CHECK(has(said,
            "route mqtt-1: publishes below rimeward/notice; a trial went this way, see "
            "whether it came\n"));
  const std::string written = text_of(checked_garden.written());
  CAPTURE(written);
  CHECK(written.find("A trial from Hochfeld school garden: notices reach you this way") !=
        std::string::npos);
  CHECK(written.find("Nothing is to be done.") != std::string::npos);

  // What was published, and then taken away: four messages, the last two empty.
  REQUIRE(listener.wait_for_payload(""));
  bool shown = false;
  for (const Arrival& arrival : listener.arrivals()) {
    if (arrival.topic != "rimeward/notice/trial/garden") continue;
    shown = shown || arrival.payload.find("\"kind\":\"trial\"") != std::string::npos;
  }
  CHECK(shown);
  Broker later = checked_garden.broker.settings("later");
  later.status_topic = "later/status";
  later.listen = {"rimeward/notice/#", "marker"};
  REQUIRE(listener.link().publish("marker", "end", true, std::chrono::seconds{10}));
  Listener latecomer(later);
  REQUIRE(latecomer.wait_for_payload("end"));
  CHECK(latecomer.arrivals().size() == 1);
}

TEST_CASE("a route that fails its trial is told with its trouble, the others are tried") {
  CheckedGarden checked_garden;
  RouteSettings& command = checked_garden.garden.routes[1];
  command.run = {"/bin/sh", "-c", "echo the bell is broken >&2; exit 3"};
  const Said said = checked(checked_garden.garden, true);
  CAPTURE(said.text);
  CHECK_FALSE(said.well);
  CHECK(has(said, "ok    route mqtt-1: "));
  CHECK(has(said, "WRONG route command-2: "));
  CHECK(has(said, "the bell is broken"));
}

TEST_CASE("what a route needs and is not there is told before anything is sent") {
  CheckedGarden checked_garden;
  RouteSettings gone;
  gone.kind = "command";
  gone.run = {"/nonexistent/bell"};
  checked_garden.garden.routes = {gone};
  for (const bool routes : {false, true}) {
    const Said said = checked(checked_garden.garden, routes);
    CHECK_FALSE(said.well);
    CHECK(has(said,
              "WRONG route command-1: /nonexistent/bell does not exist; mend [[route]] "
              "run\n"));
  }
}

TEST_CASE("without its broker a garden's check fails, and so does the trial by it") {
  CheckedGarden checked_garden;
  checked_garden.broker.stop();
  const Said said = checked(checked_garden.garden, true);
  CAPTURE(said.text);
  CHECK_FALSE(said.well);
  CHECK(has(said, "WRONG broker: "));
  CHECK(has(said, "WRONG route mqtt-1: "));
  CHECK(has(said, "ok    route command-2: "));
}

}  // namespace
}  // namespace rimeward
