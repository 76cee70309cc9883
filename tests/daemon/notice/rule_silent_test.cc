#include <doctest/doctest.h>

#include "daemon/notice/keeper.h"
#include "daemon/notice/rule.h"
#include "tests/support/situation.h"

using namespace rimeward;
using namespace rimeward::testing;
using namespace std::chrono_literals;

namespace {

struct OneSensor {
  Listening garden;

  OneSensor() { garden.add("north-frame-probe", 5min, "2026-04-12T12:05:00Z"); }

  SensorView& view() { return garden.views.front(); }
  Sensor& sensor() { return garden.sensors.front(); }

  std::vector<Finding> after(std::chrono::seconds silence) const {
    return find_silent(garden.look(at("2026-04-12T12:05:00Z") + silence));
  }
};

std::vector<std::string> subjects(const std::vector<Finding>& findings) {
  std::vector<std::string> found;
  for (const Finding& finding : findings)
    found.push_back(finding.subject);
  return found;
}

std::vector<std::string> silent_in(const Listening& garden, std::string_view now) {
  return subjects(find_silent(garden.look(at(now))));
}

using Subjects = std::vector<std::string>;

// Ten sensors, from one a minute to one in three hours, that all report through one
// broker, and a keeper that looks at them every five minutes.
struct Day {
  Listening garden;
  Garden settings = hochfeld();
  Store store = Store::in_memory();
  Keeper keeper{settings, garden.evening.zone, store,
                [](LogLevel, const std::string&) {}};
  std::optional<std::string> dead;  // by itself, beside what the broker does
  static constexpr int kGaps[]{1, 1, 2, 5, 7, 10, 15, 30, 60, 180};

  Day() {
    for (std::size_t i = 0; i < std::size(kGaps); ++i) {
      garden.add(name(i), std::chrono::minutes{kGaps[i]}, "2026-04-12T06:00:00Z");
    }
  }

  static std::string name(std::size_t i) { return "probe-" + std::to_string(i); }

  void run(std::string_view from, std::string_view to, bool broker_is_up) {
    for (Instant now = at(from); now < at(to); now += 1min) {
      const auto minute =
          std::chrono::floor<std::chrono::minutes>(now).time_since_epoch().count();
      for (std::size_t i = 0; broker_is_up && i < std::size(kGaps); ++i) {
        // Each at its own minute.
        const bool speaks = (minute + static_cast<int>(3 * i)) % kGaps[i] == 0;
        if (speaks && name(i) != dead) garden.hear(name(i), now);
      }
      if (minute % 5 == 0) look(now);
    }
  }

  void look(Instant now) {
    Changes changes;
    keeper.look(garden.look(now), changes);
    changes.now = now;
    store.commit(changes);
  }

  // Of all that were ever raised, oldest first.
  Subjects told() const {
    Subjects found;
    for (const NoticeRow& notice : store.latest_notices(100))
      found.insert(found.begin(), notice.subject);
    return found;
  }
};

}  // namespace

TEST_CASE("a sensor may be quiet for half an hour, or for four of its usual gaps") {
  OneSensor one;
  CHECK(one.after(30min - 1s).empty());
  CHECK_FALSE(one.after(30min).empty());
  one.view().usual_gap = 60min;
  CHECK(one.after(4h - 1s).empty());
  CHECK_FALSE(one.after(4h).empty());
  one.view().usual_gap = 24h;
  CHECK_FALSE(one.after(6h).empty());
}

TEST_CASE("silent_after of the settings rules over the sensor's rhythm") {
  OneSensor one;
  one.sensor().silent_after = 2h;
  CHECK(one.after(119min).empty());
  CHECK_FALSE(one.after(120min).empty());
}

TEST_CASE("a silent sensor is named with its place, its last word and what to look at") {
  const OneSensor one;
  const Finding finding = one.after(45min).front();
  CHECK(finding.subject == "north-frame-probe");
  CHECK(finding.place == "north-frame");
  CHECK(finding.title == "The sensor in the north frame is silent");
  CHECK(finding.body ==
        "north-frame-probe was last heard at 14:05 on Sun 2026-04-12. It usually reports "
        "every 5 minutes. Until it is heard, what is said of the north frame rests on "
        "older readings, and no frost there will be noticed in the night. Look at its "
        "battery, and whether it can still be reached. It is the only sensor, so it may "
        "be the broker or the network: look at these, too.");
}

TEST_CASE("in German a silent sensor is told in German") {
  OneSensor one;
  one.garden.evening.recents.air.insert(at("2026-04-12T12:00:00Z"), 6.0);
  Situation situation = one.garden.look(at("2026-04-12T12:50:00Z"));
  situation.wording = german(one.garden.evening.zone);
  const Finding finding = find_silent(situation).front();
  CHECK(finding.title == "North frame: Sensor meldet sich nicht");
  CHECK(finding.body ==
        "north-frame-probe hat sich zuletzt um 14:05 Uhr am So, 12.4.2026 gemeldet. "
        "Üblicher Abstand der Meldungen: 5 Minuten. Bis er zu hören ist, beruht alles, "
        "was zu North frame gesagt wird, auf älteren Messwerten, und Frost dort bleibt "
        "in der Nacht unbemerkt. Nach der Batterie sehen, und ob der Sensor noch zu "
        "erreichen ist. Es ist der einzige Sensor, also kann es am Broker oder am Netz "
        "liegen: auch dort nachsehen.");
}

TEST_CASE("where another place stands in, it is named") {
  OneSensor one;
  const Place other = yard();
  one.garden.evening.stand_in =
      StandIn{.place = &other, .recents = &one.garden.evening.recents};
  CHECK(one.after(45min).front().body.find(
            "what is said of the north frame rests on the yard and how the two usually "
            "differ, and is less sure.") != std::string::npos);
}

TEST_CASE("a forecast that falls silent leaves the garden its own readings") {
  OneSensor one;
  one.sensor().payload.lone_channel = Channel::kForecastLow;
  const Finding finding = one.after(45min).front();
  CHECK(finding.title == "The forecast from outside is silent");
  CHECK(finding.body.ends_with(
      "Until it is heard, the outlooks rest on the garden's own readings alone. Look at "
      "what passes it on to the broker."));
}

TEST_CASE("a sensor that was never heard is waited for from the start") {
  OneSensor one;
  one.view().ever_heard = false;
  one.view().usual_gap.reset();
  CHECK(one.after(2h - 1s).empty());
  const Finding finding = one.after(2h).front();
  CHECK(finding.body.starts_with(
      "north-frame-probe has never been heard; waited for since 14:05 on Sun"));
  CHECK(finding.body.find("whether its topic is right") != std::string::npos);
}

TEST_CASE("where another sensor still measures the air, frost is not said to go unseen") {
  OneSensor one;
  one.garden.evening.recents.air.insert(at("2026-04-12T12:40:00Z"), 6.0);
  const std::string body = one.after(45min).front().body;
  CHECK(body.find("rests on the other sensors there") != std::string::npos);
  CHECK(body.find("no frost") == std::string::npos);
}

TEST_CASE("a sensor that is being checked is not silent") {
  OneSensor one;
  one.view().being_checked = true;
  CHECK(one.after(8h).empty());
}

TEST_CASE(
    "a sensor that fails while others are heard is silent by itself, at its limit") {
  Listening garden;
  garden.add("a", 5min, "2026-04-12T12:00:00Z");
  garden.add("b", 5min, "2026-04-12T12:29:00Z");
  CHECK(silent_in(garden, "2026-04-12T12:29:59Z").empty());
  const auto findings = find_silent(garden.look(at("2026-04-12T12:30:00Z")));
  REQUIRE(subjects(findings) == Subjects{"a"});
  CHECK(findings.front().body.find("broker") == std::string::npos);
}

TEST_CASE("a garden whose quick sensors fell silent together is one notice, at once") {
  Listening garden;
  garden.add("minute", 1min, "2026-04-12T12:04:00Z");
  garden.add("five", 5min, "2026-04-12T12:03:00Z");
  garden.add("hourly", 60min, "2026-04-12T11:30:00Z");
  CHECK(silent_in(garden, "2026-04-12T12:33:00Z").empty());  // one of two: not clear yet
  const auto findings = find_silent(garden.look(at("2026-04-12T12:35:00Z")));
  REQUIRE(subjects(findings) == Subjects{"the garden"});
  CHECK(findings.front().place.empty());
  CHECK(findings.front().title == "Nothing is heard from the garden");
  CHECK(findings.front().body ==
        "None of its 3 sensors has been heard since 14:04 on Sun 2026-04-12. That is "
        "hardly the fault of each: look at the broker, the router, and the power of "
        "both. Until they are heard, all advice rests on older readings, and no frost "
        "will be noticed in the night.");
  // When the slow one is over its limit, too, there is nothing new to say.
  CHECK(silent_in(garden, "2026-04-12T18:00:00Z") == Subjects{"the garden"});
}

TEST_CASE("a sensor that died before the garden fell silent keeps its own notice") {
  Listening garden;
  garden.add("dead", 5min, "2026-04-11T12:00:00Z");
  garden.add("a", 5min, "2026-04-12T12:04:00Z");
  garden.add("b", 5min, "2026-04-12T12:03:00Z");
  CHECK(silent_in(garden, "2026-04-12T12:10:00Z") == Subjects{"dead"});
  CHECK(silent_in(garden, "2026-04-12T13:00:00Z") == Subjects{"dead", "the garden"});
  garden.hear("a", at("2026-04-12T15:00:00Z"));
  CHECK(silent_in(garden, "2026-04-12T15:00:00Z") == Subjects{"dead"});
}

TEST_CASE(
    "one quick sensor among slow ones is told alone, and that it may be the broker") {
  Listening garden;
  garden.add("minute", 1min, "2026-04-12T12:04:00Z");
  garden.add("hourly", 60min, "2026-04-12T11:30:00Z");
  const auto findings = find_silent(garden.look(at("2026-04-12T12:34:00Z")));
  REQUIRE(subjects(findings) == Subjects{"minute"});
  CHECK(findings.front().body.ends_with(
      "Nothing else has been heard lately, so it may be the broker or the network: look "
      "at these, too."));
}

TEST_CASE("of a garden that was never heard, one notice says where to look") {
  Listening garden;
  for (const char* id : {"a", "b", "c"}) {
    SensorView& view = garden.add(id, 0s, "2026-04-12T12:00:00Z");
    view.ever_heard = false;
    view.usual_gap.reset();
  }
  CHECK(silent_in(garden, "2026-04-12T13:59:59Z").empty());
  const auto findings = find_silent(garden.look(at("2026-04-12T14:00:00Z")));
  REQUIRE(subjects(findings) == Subjects{"the garden"});
  CHECK(findings.front().body ==
        "None of its 3 sensors has ever been heard; they are waited for since 14:00 on "
        "Sun 2026-04-12. Look whether they send to this broker, whether their topics in "
        "the settings are right, and whether [broker] listen takes these in. Until they "
        "are heard there is no advice.");
  garden.hear("b", at("2026-04-12T14:10:00Z"));
  garden.hear("b", at("2026-04-12T15:40:00Z"));
  CHECK(silent_in(garden, "2026-04-12T16:00:00Z").empty());
  CHECK(silent_in(garden, "2026-04-12T16:10:00Z") == Subjects{"a", "c"});
}

TEST_CASE("ten sensors silenced by one broker are one notice, and none when it is back") {
  Day day;
  day.run("2026-04-12T00:00:00Z", "2026-04-12T09:58:00Z", true);
  CHECK(day.told().empty());
  day.run("2026-04-12T09:58:00Z", "2026-04-12T18:31:00Z", false);
  CHECK(day.told() == Subjects{"the garden"});
  REQUIRE(day.store.open_notices().size() == 1);
  CHECK(day.store.open_notices().front().raised_at == at("2026-04-12T10:30:00Z"));
  day.run("2026-04-12T18:31:00Z", "2026-04-13T06:00:00Z", true);
  CHECK(day.told() == Subjects{"the garden"});
  CHECK(day.store.open_notices().empty());
}

TEST_CASE("at whatever minute the broker fails, only the garden is called silent") {
  for (int minute = 0; minute < 180; minute += 7) {
    Day day;
    const std::string failed =
        format_utc(at("2026-04-12T09:00:00Z") + std::chrono::minutes{minute});
    day.run("2026-04-12T04:00:00Z", failed, true);
    day.run(failed, "2026-04-12T20:00:00Z", false);
    day.run("2026-04-12T20:00:00Z", "2026-04-13T04:00:00Z", true);
    CHECK(day.told() == Subjects{"the garden"});
  }
}

TEST_CASE("a broker that fails twice gives no notice of a sensor that it kept waiting") {
  Day day;
  day.run("2026-04-12T00:00:00Z", "2026-04-12T09:05:00Z", true);
  day.run("2026-04-12T09:05:00Z", "2026-04-12T11:50:00Z", false);
  // Too short for the slowest to be heard.
  day.run("2026-04-12T11:50:00Z", "2026-04-12T11:58:00Z", true);
  day.run("2026-04-12T11:58:00Z", "2026-04-12T17:50:00Z", false);
  day.run("2026-04-12T17:50:00Z", "2026-04-13T06:00:00Z", true);
  CHECK(day.told() == Subjects{"the garden", "the garden"});
}

TEST_CASE("a sensor that does not come back with the others is told, after its limit") {
  Day day;
  day.run("2026-04-12T00:00:00Z", "2026-04-12T09:58:00Z", true);
  day.run("2026-04-12T09:58:00Z", "2026-04-12T15:00:00Z", false);
  day.dead = Day::name(3);
  day.run("2026-04-12T15:00:00Z", "2026-04-12T18:00:00Z", true);
  CHECK(day.told() == Subjects{"the garden", "probe-3"});
  CHECK(day.store.open_notices().front().raised_at == at("2026-04-12T15:30:00Z"));
}

TEST_CASE("a sensor that died the day before is told once, whatever the broker does") {
  Day day;
  day.run("2026-04-12T00:00:00Z", "2026-04-12T06:00:00Z", true);
  day.dead = Day::name(5);
  day.run("2026-04-12T06:00:00Z", "2026-04-12T09:58:00Z", true);
  day.run("2026-04-12T09:58:00Z", "2026-04-12T15:00:00Z", false);
  day.run("2026-04-12T15:00:00Z", "2026-04-13T06:00:00Z", true);
  CHECK(day.told() == Subjects{"probe-5", "the garden"});
  REQUIRE(day.store.open_notices().size() == 1);
  CHECK(day.store.open_notices().front().subject == "probe-5");
}

TEST_CASE("the garden's notice goes to every route for its kind, whatever its places") {
  Day day;
  RouteSettings elsewhere;
  elsewhere.kind = "command";
  elsewhere.places = {"yard"};
  RouteSettings of_frost = elsewhere;
  of_frost.kinds_for = {"danger"};
  day.settings.routes = {elsewhere, of_frost};
  day.run("2026-04-12T00:00:00Z", "2026-04-12T09:58:00Z", true);
  day.run("2026-04-12T09:58:00Z", "2026-04-12T11:00:00Z", false);
  const auto outbox = day.store.waiting_outbox();
  REQUIRE(outbox.size() == 1);
  CHECK(outbox.front().route == "command-1");
}
