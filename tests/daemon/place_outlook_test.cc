// What an App makes of more than a place's own readings: covers, a silent sensor, an
// outside opinion; live, and restarted anywhere. The weather is invented, by formula.

#include "daemon/place_outlook.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <random>
#include <string>
#include <variant>
#include <vector>

#include <doctest/doctest.h>
#include <fmt/format.h>

#include "daemon/app.h"
#include "tests/support/hochfeld.h"

using namespace rimeward;
using namespace rimeward::testing;
using namespace std::chrono_literals;

namespace {

using std::chrono::sys_days;
using Hours = std::chrono::duration<double, std::ratio<3600>>;

const Instant kStart = at("2026-04-01T00:00:00Z");
const Zone kZone = berlin();

// Each day has its own swing and level, so that lows differ from night to night.
double open_air(Instant now) {
  const double hours = Hours(now - kStart).count();
  const double day = std::floor((hours - 5.0) / 24.0);  // from low to low
  const double swing = 4.5 + 2.0 * std::sin(day * 1.7);
  const double level = 5.0 + 2.5 * std::sin(day * 0.9);
  const double wave = std::cos((std::fmod(hours, 24.0) - 14.0) * std::numbers::pi / 12.0);
  return level + swing * wave;
}

// While a cover that is on shows: from the evening to the morning.
bool shows_cover(Instant now) {
  const double hour = std::fmod(Hours(now - kStart).count(), 24.0);
  return hour >= 17.5 || hour < 7.5;
}

constexpr double kFrameWarmer = 1.0;
constexpr double kLayerAdds = 2.5;

struct Stream {
  std::vector<Message> messages;
  std::vector<Instant> times;

  void add(Message message, Instant when) {
    messages.push_back(std::move(message));
    times.push_back(when);
  }
  void say(const std::string& topic, std::string payload, Instant when) {
    Arrival arrival;
    arrival.sequence = ++sequence;
    arrival.at = when;
    arrival.topic = topic;
    arrival.payload = std::move(payload);
    arrival.payload_bytes = arrival.payload.size();
    add(std::move(arrival), when);
  }
  void act(const std::string& verb, int layers, Instant when) {
    add(ActionRow{.id = ++action,
                  .at = when,
                  .verb = verb,
                  .place = "north-frame",
                  .layers = layers},
        when);
  }
  std::uint64_t sequence = 0;
  std::int64_t action = 0;
};

struct Weather {
  int days = 20;
  bool covers = false;              // on every second evening from the seventh on
  std::optional<int> silent_on{};   // the frame says nothing from noon of that day on
  std::optional<double> opinion{};  // what a regional forecast is off
};

Stream stream_of(const Weather& weather) {
  Stream stream;
  int on = 0;
  for (Instant now = kStart; now < kStart + weather.days * 24h; now += 20min) {
    const auto day = (now - kStart) / 24h;
    const auto hour = (now - kStart) % 24h;
    const double air = open_air(now);
    stream.say(
        "garden/yard/climate",
        fmt::format(R"({{"temperature":{:.2f},"humidity":{:.1f}}})", air, 75 - air),
        now + 7s);
    const bool silent = weather.silent_on && day == *weather.silent_on && hour >= 12h;
    const double frame = air + kFrameWarmer + (shows_cover(now) ? on * kLayerAdds : 0.0);
    if (!silent && !(weather.silent_on && day > *weather.silent_on)) {
      stream.say(
          "garden/north-frame/climate",
          fmt::format(R"({{"temperature":{:.2f},"humidity":{:.1f}}})", frame, 75 - frame),
          now + 9s);
    }
    if (weather.opinion && hour == 11h) {
      // The low comes about 05:00 of the next day.
      stream.say("garden/regional",
                 fmt::format("{:.1f}", open_air(now + 18h - 1s) + *weather.opinion),
                 now + 11s);
    }
    if (!weather.covers || day < 6) continue;
    if (hour == 17h && day % 2 == 0) stream.act("cover", on = 1, now + 13s);
    if (hour == 7h && on > 0) stream.act("uncover", on = 0, now + 13s);
  }
  return stream;
}

Garden garden_of() {
  Garden garden = hochfeld();
  Sensor regional;
  regional.id = "regional";
  regional.place = "yard";
  regional.topic = "garden/regional";
  regional.format = "number";
  regional.payload.lone_channel = Channel::kForecastLow;
  garden.sensors.push_back(regional);
  return garden;
}

Store played(const Weather& weather) {
  static const Garden garden = garden_of();
  Store store = Store::in_memory();
  App app(garden, kZone, store, {});
  const Stream stream = stream_of(weather);
  for (std::size_t i = 0; i < stream.messages.size(); ++i) {
    app.turn(stream.messages[i], stream.times[i]);
    if (app.wants_commit()) app.commit();
  }
  app.turn(Stop{}, stream.times.back());
  app.commit();
  return store;
}

sys_days day(int number) {
  return sys_days{std::chrono::floor<std::chrono::days>(kStart)} +
         std::chrono::days{number};
}

std::vector<OutlookRow> all_outlooks(const Store& store, const char* place) {
  return store.outlooks(place, day(0), day(60));
}

std::string contents(const Store& store) {
  std::string text;
  for (const char* place : {"north-frame", "yard"}) {
    for (const OutlookRow& row : all_outlooks(store, place)) {
      text += fmt::format("{} {} {} {} {} {} {} {}\n", place, format_utc(row.issued_at),
                          row.low.degrees, row.low10.degrees, row.low90.degrees,
                          row.spread_below, row.rests_on,
                          row.opinion.value_or(Celsius{-99}).degrees);
    }
    for (const NightRow& row : store.nights(place, day(0), day(60))) {
      text += fmt::format("{} {} {}\n", row.low.value_or(Celsius{-99}).degrees,
                          row.layers.value_or(-1), row.lift);
    }
    for (const char* subject :
         {"outlook", "lift", "differences", "surprises", "opinion", "mornings"}) {
      text += store.learned(place, subject).value_or("none") + "\n";
    }
  }
  for (const NoticeRow& row : store.latest_notices(1000)) {
    text += fmt::format("{} {} {} {} {} {}\n", row.kind, row.subject, name_of(row.state),
                        row.revision, row.title, row.body);
  }
  return text;
}

double mean_error(const Store& store, const char* place, Moment moment, int from) {
  double sum = 0;
  int count = 0;
  const auto nights = store.nights(place, day(from), day(60));
  for (const OutlookRow& row : all_outlooks(store, place)) {
    const auto night = std::ranges::find(nights, row.night, &NightRow::night);
    if (row.moment != static_cast<int>(moment) || night == nights.end()) continue;
    if (!night->low || night->layers != 0) continue;
    sum += (row.low - *night->low).degrees;
    ++count;
  }
  REQUIRE(count > 0);
  return sum / count;
}

}  // namespace

TEST_CASE("the first evening of a new garden has an outlook") {
  const Store store = played({.days = 1});
  const auto outlooks = all_outlooks(store, "north-frame");
  REQUIRE(outlooks.size() >= 3);
  CHECK(outlooks[0].night == day(1));
}

TEST_CASE("a night under a cover is written down as one, with the low that was read") {
  const Store store = played({.covers = true});
  const auto nights = store.nights("north-frame", day(7), day(8));
  REQUIRE(nights.size() == 2);
  CHECK(nights[0].layers == 1);
  CHECK(nights[1].layers == 0);
  const double open = open_air(kStart + 7 * 24h + 2h) + kFrameWarmer;
  CHECK(nights[0].low->degrees > open + kLayerAdds - 1.0);
  CHECK(nights[0].lift > 0.0);
}

TEST_CASE("what a cover adds is learned from nights with and without it") {
  const auto lift_of = [](const Store& store) {
    return Lifts::restore(store.learned("north-frame", "lift").value()).value().of(1);
  };
  const Lift published = lift_of(played({.days = 5}));
  CHECK(published.nights == 0);
  const Lift learned = lift_of(played({.days = 28, .covers = true}));
  CHECK(learned.nights == 11);
  CHECK(std::abs(learned.added.degrees - kLayerAdds) < 0.5);
}

TEST_CASE("a history of covered nights does not fool the outlook of the open place") {
  const Store never = played({.days = 28});
  const Store often = played({.days = 28, .covers = true});
  for (const Moment moment : {Moment::kDusk, Moment::kDark}) {
    CAPTURE(name_of(moment));
    const double plain = mean_error(never, "north-frame", moment, 14);
    const double covered = mean_error(often, "north-frame", moment, 14);
    CHECK(std::abs(covered - plain) < 0.5);
  }
}

TEST_CASE("where a sensor is silent, another place stands in and says so") {
  const Store store = played({.days = 12, .silent_on = 11});
  const auto rows = store.outlooks("north-frame", day(12), day(12));
  REQUIRE(rows.size() >= 3);
  CHECK(rows.back().rests_on == "yard");
  const auto yard = store.outlooks("yard", day(12), day(12));
  const auto& theirs = yard.at(rows.size() - 1);
  CHECK(theirs.rests_on.empty());
  CHECK((rows.back().low - theirs.low).degrees ==
        doctest::Approx(kFrameWarmer).epsilon(0.3));
  CHECK(rows.back().spread_below > theirs.spread_below);
}

TEST_CASE("a frost is told though the sensor of the frame is silent") {
  // The coldest of the invented nights.
  const Store store = played({.days = 13, .silent_on = 12});
  std::string all;
  for (const NoticeRow& notice : store.latest_notices(100)) {
    if (notice.subject == "north-frame" && notice.raised_at >= kStart + 12 * 24h) {
      all += notice.title + ": " + notice.body + "\n";
    }
  }
  CAPTURE(all);
  CHECK(all.find("by the yard and how the two usually differ") != std::string::npos);
}

TEST_CASE("an outside opinion serves all places, and a good one makes them better") {
  const Store without = played({.days = 40});
  const Store with = played({.days = 40, .opinion = 2.0});
  const auto spread_at_the_end = [](const Store& store, const char* place) {
    return store.outlooks(place, day(39), day(39)).front().spread_below;
  };
  for (const char* place : {"north-frame", "yard"}) {
    CAPTURE(place);
    CHECK_FALSE(all_outlooks(without, place).back().opinion);
    REQUIRE(all_outlooks(with, place).back().opinion);
    CHECK(spread_at_the_end(with, place) < spread_at_the_end(without, place));
  }
}

TEST_CASE("with covers, silences and opinions too, a restart anywhere changes nothing") {
  const Garden garden = garden_of();
  Weather weather{.days = 18, .covers = true, .silent_on = 16, .opinion = 1.0};
  const std::string unbroken = contents(played(weather));
  REQUIRE(unbroken.size() > 5'000);
  const Stream stream = stream_of(weather);
  for (const unsigned seed : {1U, 2U}) {
    CAPTURE(seed);
    std::mt19937 random(seed);
    Store store = Store::in_memory();
    std::optional<App> app;
    app.emplace(garden, kZone, store, AppOptions{});
    int restarts = 0;
    for (std::size_t i = 0; i < stream.messages.size(); ++i) {
      app->turn(stream.messages[i], stream.times[i]);
      if (app->wants_commit()) app->commit();
      if (random() % 41 != 0) continue;
      app->commit();
      app.emplace(garden, kZone, store, AppOptions{});
      ++restarts;
    }
    app->turn(Stop{}, stream.times.back());
    app->commit();
    CHECK(restarts > 30);
    CHECK(contents(store) == unbroken);
  }
}
