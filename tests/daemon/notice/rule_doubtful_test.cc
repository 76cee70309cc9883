#include <doctest/doctest.h>

#include "daemon/notice/keeper.h"
#include "daemon/notice/rule.h"
#include "tests/support/situation.h"

using namespace rimeward;
using namespace rimeward::testing;
using namespace std::chrono_literals;

namespace {

// One sensor, of whose last twelve readings some were doubted.
struct Doubted {
  Listening garden;

  Doubted() {
    garden.add("north-frame-probe", 5min, "2026-04-12T12:00:00Z");
    garden.evening.recents.air.insert(at("2026-04-12T11:55:00Z"), 6.0);
  }

  Doubts& doubts() { return garden.views.front().doubts; }

  void doubt(int doubtful, Doubt mostly, Channel channel, double said) {
    doubts() = {.readings = 12,
                .doubtful = doubtful,
                .mostly = mostly,
                .channel = channel,
                .last_said = said,
                .last_at = at("2026-04-12T12:00:00Z")};
  }

  std::vector<Finding> find() const {
    return find_doubtful(garden.look(at("2026-04-12T12:00:00Z")));
  }

  std::string body(Doubt mostly, Channel channel, double said) {
    doubt(5, mostly, channel, said);
    return find().front().body;
  }
};

bool says(const std::string& body, std::string_view words) {
  return body.find(words) != std::string::npos;
}

}  // namespace

TEST_CASE("a sensor cannot be believed from 4 doubtful readings of 12 to 1") {
  Doubted one;
  CHECK(one.find().empty());
  one.doubt(1, Doubt::kJump, Channel::kAirTemperature, 30);
  CHECK(one.find().empty());
  one.doubt(3, Doubt::kJump, Channel::kAirTemperature, 30);
  CHECK_FALSE(one.find().front().holds);
  one.doubt(4, Doubt::kJump, Channel::kAirTemperature, 30);
  CHECK(one.find().front().holds);
}

TEST_CASE("a sensor that is stuck cannot be believed from its second reading on") {
  Doubted one;
  one.doubt(1, Doubt::kStuck, Channel::kAirTemperature, 4.2);
  CHECK(one.find().empty());
  one.doubt(2, Doubt::kStuck, Channel::kAirTemperature, 4.2);
  CHECK(one.find().front().holds);
}

TEST_CASE("a doubtful sensor is named with how often, what and what to look at") {
  Doubted one;
  one.doubt(12, Doubt::kPowerOn, Channel::kAirTemperature, 85);
  const Finding finding = one.find().front();
  CHECK(finding.subject == "north-frame-probe");
  CHECK(finding.place == "north-frame");
  CHECK(finding.title == "The sensor in the north frame cannot be believed");
  CHECK(finding.body ==
        "north-frame-probe: All of its last 12 readings say 85 °C, which a probe says "
        "that has just been switched on and has not measured yet. Look at its plug, its "
        "wires and its power: something is loose, and it starts again and again. These "
        "count for nothing; what is said of the north frame rests on the other readings "
        "there.");
}

TEST_CASE("where no air is measured any more, the frost that would go unseen is named") {
  Doubted one;
  one.garden.evening.recents = {};
  one.garden.evening.recents.air.insert(at("2026-04-12T10:45:00Z"), 6.0);
  CHECK(says(one.body(Doubt::kJump, Channel::kAirTemperature, 30),
             "rests on older readings, and no frost there will be noticed in the night"));
}

TEST_CASE("every reason to doubt has its own words and its own remedy") {
  Doubted one;
  const auto body = [&](Doubt mostly, Channel channel, double said) {
    return one.body(mostly, channel, said);
  };
  const std::string range = body(Doubt::kRange, Channel::kSoilTemperature, 412.25);
  CHECK(says(range,
             "5 of its last 12 readings tell a soil temperature that cannot be, "
             "such as 412.25 °C."));
  CHECK(says(range, "type and unit"));
  CHECK(says(body(Doubt::kNotConnected, Channel::kAirTemperature, -127),
             "say -127 °C, which stands for a probe that does not answer. Look at its "
             "plug and wires"));
  CHECK(says(body(Doubt::kJump, Channel::kHumidity, 3),
             "are jumps in humidity that nothing there can make. Look at its plug"));
  CHECK(says(body(Doubt::kStuck, Channel::kAirTemperature, 4.2),
             "are stuck at 4.2 °C, while it changed elsewhere. Switch it off and on"));
  CHECK(says(body(Doubt::kSameSecond, Channel::kAirTemperature, 4.2),
             "of one and the same second. Look whether two sensors publish"));
  CHECK(says(body(Doubt::kFuture, Channel::kAirTemperature, 4.2),
             "come from the future by its own clock. Its clock is wrong"));
  CHECK(says(body(Doubt::kTooOld, Channel::kAirTemperature, 4.2),
             "are long past by its own clock. Its clock is wrong"));
}

TEST_CASE("what a doubtful sensor says is told in the garden's unit, however absurd") {
  Doubted one;
  one.doubt(12, Doubt::kNotConnected, Channel::kAirTemperature, -127);
  Situation situation = one.garden.look(at("2026-04-12T12:00:00Z"));
  situation.wording =
      Wording("en", TemperatureUnit::kFahrenheit, one.garden.evening.zone);
  CHECK(says(find_doubtful(situation).front().body, "say -196.6 °F,"));
  CHECK(says(one.body(Doubt::kRange, Channel::kPressure, 1.7e308), "1.7e+308 hPa"));
}

TEST_CASE("in German a doubtful sensor is told in German, with a decimal comma") {
  Doubted one;
  one.doubt(5, Doubt::kRange, Channel::kSoilTemperature, 412.25);
  Situation situation = one.garden.look(at("2026-04-12T12:00:00Z"));
  situation.wording = german(one.garden.evening.zone);
  const Finding finding = find_doubtful(situation).front();
  CHECK(finding.title == "North frame: dem Sensor ist nicht zu trauen");
  CHECK(finding.body ==
        "north-frame-probe: 5 der letzten 12 Meldungen nennen für Bodentemperatur Werte, "
        "die nicht sein können, etwa 412,25 °C. Stecker und Kabel ansehen, und ob in den "
        "Einstellungen Art und Einheit stimmen. Das alles zählt nicht; was zu North "
        "frame gesagt wird, beruht auf den anderen Messwerten dort.");
}

TEST_CASE("nothing is said of a sensor that is being checked") {
  Doubted one;
  one.doubt(12, Doubt::kJump, Channel::kAirTemperature, 30);
  one.garden.views.front().being_checked = true;
  CHECK(one.find().empty());
}

TEST_CASE("a doubtful sensor is told once, ten minutes on, and over after half an hour") {
  Doubted one;
  const Garden settings = hochfeld();
  Store store = Store::in_memory();
  Keeper keeper{settings, one.garden.evening.zone, store,
                [](LogLevel, const std::string&) {}};
  Instant now = at("2026-04-12T12:00:00Z");
  const auto look_until = [&](Instant end) {
    for (; now <= end; now += 5min) {
      Changes changes;
      keeper.look(one.garden.look(now), changes);
      changes.now = now;
      store.commit(changes);
    }
  };
  const auto doubtful = [&](std::vector<NoticeRow> notices) {
    std::erase_if(notices, [](const auto& notice) { return notice.kind != "doubtful"; });
    return notices;
  };
  one.doubt(4, Doubt::kJump, Channel::kAirTemperature, 30);
  look_until(at("2026-04-12T12:05:00Z"));
  CHECK(doubtful(store.open_notices()).empty());
  look_until(at("2026-04-12T12:10:00Z"));
  CHECK(doubtful(store.open_notices()).size() == 1);
  // It goes on, less badly: the words follow, and nobody is told again.
  one.doubt(2, Doubt::kJump, Channel::kAirTemperature, 30);
  look_until(at("2026-04-12T14:00:00Z"));
  REQUIRE(doubtful(store.open_notices()).size() == 1);
  CHECK(doubtful(store.open_notices()).front().revision == 1);
  CHECK(says(doubtful(store.open_notices()).front().body, "2 of its last 12"));
  one.doubt(1, Doubt::kJump, Channel::kAirTemperature, 30);
  look_until(at("2026-04-12T14:30:00Z"));
  CHECK(doubtful(store.open_notices()).size() == 1);
  look_until(at("2026-04-12T14:35:00Z"));
  CHECK(doubtful(store.open_notices()).empty());
}
