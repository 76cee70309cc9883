#include "daemon/base/garden_clock.h"

#include <algorithm>
#include <set>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "daemon/base/zone.h"
#include "sensors/iso_time.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;
using std::chrono::seconds;
using Trust = GardenClock::Trust;

Instant at(std::string_view text) {
  return parse_instant(text).value();
}

const Instant kNoon = at("2026-04-12T12:00:00Z");
const Instant k1970 = at("1970-01-01T00:00:00Z");

// A board whose clock can be set by hand, looked at once a second.
class Board {
 public:
  Board(const GardenClock& of, Instant system, seconds uptime)
      : clock(of), look{.system = system, .uptime = uptime} {}

  // Looks at once and then each second of `span`.
  void run(seconds span = 0s) {
    for (const seconds end = look.uptime + span;;) {
      if (auto remark = clock.look(look)) said.push_back(*std::move(remark));
      if (look.uptime >= end) break;
      ++look.uptime;
      ++look.system;
    }
  }
  void set(Instant system) { look.system = system; }
  void tell(seconds off = 0s) { clock.told(look.system + off, look); }
  Instant garden() const { return clock.course().time_at(look.uptime); }

  // The only thing said since the last call; empty: nothing.
  std::string heard() {
    REQUIRE(said.size() <= 1);
    const std::string text = said.empty() ? std::string() : said.front().text;
    said.clear();
    return text;
  }

  GardenClock clock;
  ClockLook look;
  std::vector<Remark> said;
};

// Believed from its first look, at noon, on a board that is up for an hour.
Board believed_at_noon(Trust trust = Trust::kEarned) {
  Board board(GardenClock(trust, std::nullopt), kNoon, 1h);
  board.run();
  REQUIRE(board.clock.is_believed());
  board.said.clear();
  return board;
}

bool has(const std::string& text, std::string_view words) {
  return text.find(words) != std::string::npos;
}

// --- waiting

TEST_CASE(
    "a clock before the program's release is never believed, whoever speaks for it") {
  Board board(GardenClock(Trust::kGiven, std::nullopt), k1970, 1s);
  board.look.synchronised = true;
  board.look.battery_clock = k1970;
  board.tell();
  board.run(30min);
  CHECK_FALSE(board.clock.is_believed());
  CHECK(board.heard() ==
        "the clock says 1970-01-01T00:00:00Z, which cannot be: readings are kept and "
        "wait until it is set; give the board its network, or set it by hand");
  CHECK(board.clock.wants_to_be_told());
}

TEST_CASE("what is waited for is said again each hour, and no more often") {
  Board board(GardenClock(Trust::kEarned, std::nullopt), k1970, 1s);
  board.run(3h - 1s);
  CHECK(board.said.size() == 3);
  CHECK(board.said.back().level == LogLevel::kWarning);
}

TEST_CASE("a fresh clock is believed once something speaks for it, and says what") {
  struct Case {
    const char* why;
    Trust trust;
    void (*speak)(Board&);
  };
  const Case cases[] = {
      {"it is trusted, as --clock says", Trust::kGiven, [](Board&) {}},
      {"the system says that it is synchronised", Trust::kEarned,
       [](Board& board) { board.look.synchronised = true; }},
      {"the board's battery clock agrees", Trust::kEarned,
       [](Board& board) { board.look.battery_clock = board.look.system - 60s; }},
      {"a sensor's own time agrees", Trust::kEarned,
       [](Board& board) { board.tell(-5min); }},
  };
  for (const auto& [why, trust, speak] : cases) {
    CAPTURE(why);
    Board board(GardenClock(trust, std::nullopt), kNoon, 20s);
    speak(board);
    board.run();
    REQUIRE(board.clock.is_believed());
    CHECK(board.heard() ==
          std::string("the clock says 2026-04-12T12:00:00Z and is believed: ") + why);
    CHECK(board.garden() == kNoon);
    CHECK_FALSE(board.clock.wants_to_be_told());
  }
}

TEST_CASE("clocks that do not agree speak for nothing") {
  Board board(GardenClock(Trust::kEarned, std::nullopt), kNoon, 20s);
  board.look.battery_clock = kNoon - 61s;
  board.tell(-5min - 1s);
  board.tell(5min + 1s);
  board.run();
  CHECK_FALSE(board.clock.is_believed());
  CHECK(board.heard() ==
        "the clock says 2026-04-12T12:00:00Z and nothing confirms it yet: readings are "
        "kept and wait until it is synchronised, a sensor's own time agrees, or it has "
        "stood for 10 min; if it is right, start with --clock trusted");
}

TEST_CASE("a clock that nothing confirms is believed when the board is long up") {
  SUBCASE("at the ten minutes after switching on, and no second before") {
    Board board(GardenClock(Trust::kEarned, std::nullopt), kNoon, 20s);
    board.run(9min + 39s);
    CHECK_FALSE(board.clock.is_believed());
    board.said.clear();
    board.run(1s);
    CHECK(board.clock.is_believed());
    REQUIRE(board.said.size() == 1);
    CHECK(board.said[0].level == LogLevel::kWarning);
    CHECK(has(board.heard(),
              "believed though nothing confirms it: it has stood for 10 min"));
  }
  SUBCASE("at once, when the daemon is restarted") {
    Board board(GardenClock(Trust::kEarned, std::nullopt), kNoon, 3h);
    board.run();
    CHECK(board.clock.is_believed());
  }
  SUBCASE("but not when it was only just set, to who knows what") {
    Board board(GardenClock(Trust::kEarned, std::nullopt), k1970, 3h);
    board.run(5s);
    board.set(kNoon);
    board.run(9min);
    CHECK_FALSE(board.clock.is_believed());
    board.run(1min);
    CHECK(board.clock.is_believed());
  }
}

TEST_CASE("what arrived before the clock was set is dated by the time that has passed") {
  Board board(GardenClock(Trust::kEarned, std::nullopt), k1970, 15s);
  board.run(5min);  // readings arrive at uptime 20, 80, ...
  board.set(kNoon);
  board.look.synchronised = true;
  board.run();
  REQUIRE(board.clock.is_believed());
  for (seconds uptime = 20s; uptime < board.look.uptime; uptime += 60s) {
    CAPTURE(uptime.count());
    CHECK(board.clock.time_at(uptime, k1970 + uptime) ==
          kNoon - (board.look.uptime - uptime));
  }
}

TEST_CASE(
    "a sensor that woke in 1970 as well does not vouch for the clock once it is set") {
  Board board(GardenClock(Trust::kEarned, std::nullopt), k1970, 15s);
  board.tell();
  board.run(5s);
  board.set(kNoon);
  board.run();
  CHECK_FALSE(board.clock.is_believed());
}

// --- the store's newest

TEST_CASE("an unconfirmed clock behind what is stored is not believed, however long") {
  // A board that wakes at the hour when it was switched off.
  Board board(GardenClock(Trust::kEarned, kNoon + 30min), kNoon, 20s);
  board.tell(-2min);  // the broker had kept it
  board.run(20min);
  CHECK_FALSE(board.clock.is_believed());
  CHECK(board.said[0].level == LogLevel::kWarning);
  CHECK(board.heard() ==
        "the clock says 2026-04-12T12:00:00Z, and the store ends 30 min later, at "
        "2026-04-12T12:30:00Z: readings are kept and wait until it is set; give the "
        "board its network, or set it by hand");
}

TEST_CASE("behind what is stored, a confirmed clock is met at half speed") {
  Board board(GardenClock(Trust::kEarned, kNoon + 2h), kNoon, 20s);
  board.run(30s);
  board.said.clear();
  board.look.synchronised = true;
  board.run();
  REQUIRE(board.clock.is_believed());
  CHECK(board.heard() ==
        "the clock says 2026-04-12T12:00:30Z, and the store ends 1 h 59 min later, at "
        "2026-04-12T14:00:00Z; the system says that it is synchronised: the garden's "
        "time goes on from there at half speed until the two agree, in about 3 h 59 min");
  // What waited since uptime 20 s comes after what is stored, too.
  CHECK(board.clock.course().time_at(20s) == kNoon + 2h);
  CHECK(board.garden() == kNoon + 2h + 15s);
  board.run(4h);
  CHECK(board.garden() == board.look.system);
}

TEST_CASE("a store that ends far ahead of a confirmed clock is for a person to mend") {
  Board board(GardenClock(Trust::kGiven, kNoon + 7h), kNoon, 20s);
  board.run(30min);
  CHECK_FALSE(board.clock.is_believed());
  REQUIRE(board.said.size() == 1);
  CHECK(board.said[0].level == LogLevel::kError);
  CHECK(board.heard() ==
        "the clock says 2026-04-12T12:00:00Z, and the store ends 7 h later, at "
        "2026-04-12T19:00:00Z: readings are kept and wait, though it is trusted, as "
        "--clock says; set the clock, or if it is right, move the store's file away, "
        "which begins a new one, and start again");
}

// --- in service

TEST_CASE(
    "where the clock runs as it should, the garden's time is the clock's and silent") {
  Board board = believed_at_noon();
  const Course course = board.clock.course();
  board.run(5h);
  CHECK(board.garden() == kNoon + 5h);
  CHECK(board.clock.course() == course);
  CHECK(board.heard().empty());
}

TEST_CASE("a clock that is slewed is followed in silence and never run back before") {
  for (const seconds off : {40s, -40s}) {
    CAPTURE(off.count());
    Board board = believed_at_noon();
    Instant before = board.garden();
    for (seconds moved = 0s; moved < 40s; ++moved) {
      board.set(board.look.system + off / 40);
      for (int i = 0; i < 30; ++i) {
        board.run(1s);
        CHECK(board.garden() >= before);
        before = board.garden();
        CHECK(std::chrono::abs(board.garden() - board.look.system) <= 2s);
      }
    }
    CHECK(board.heard().empty());
  }
}

TEST_CASE("rounding to whole seconds changes nothing") {
  Board board = believed_at_noon();
  const Course course = board.clock.course();
  for (int i = 0; i < 100; ++i) {
    board.set(board.look.system + (i % 2 == 0 ? 1s : -1s));
    board.run(1s);
    CHECK(board.clock.course() == course);
  }
}

TEST_CASE(
    "a time within two seconds of the clock's is the clock's, whenever it is asked") {
  const Board board = believed_at_noon();
  const seconds now = board.look.uptime;
  CHECK(board.clock.time_at(now, kNoon - 2s) == kNoon - 2s);
  CHECK(board.clock.time_at(now, kNoon + 2s) == kNoon + 2s);
  CHECK(board.clock.time_at(now, kNoon + 3s) == kNoon);
  CHECK(board.clock.time_at(now, k1970) == kNoon);
}

TEST_CASE("a confirmed step forward is followed at once") {
  Board board = believed_at_noon();
  board.look.synchronised = true;
  board.set(board.look.system + 5h + 3min);
  board.run();
  CHECK(board.garden() == kNoon + 5h + 3min);
  CHECK(board.heard() ==
        "the clock was set forward by 5 h 3 min, to 2026-04-12T17:03:00Z: the garden's "
        "time follows, for the system says that it is synchronised");
}

TEST_CASE("an unconfirmed step forward waits for a word or ten minutes") {
  Board board = believed_at_noon();
  board.set(board.look.system + 2h);
  board.run();
  CHECK(board.heard() ==
        "the clock was set forward by 2 h, to 2026-04-12T14:00:00Z, and nothing confirms "
        "it yet: the garden's time goes on by the time that has passed, and follows when "
        "that is confirmed or has stood for 10 min");
  CHECK(board.garden() == kNoon);
  CHECK(board.clock.wants_to_be_told());
  SUBCASE("a sensor's own time confirms it") {
    board.run(1min);
    board.tell(3s);
    board.run(1s);
    CHECK(board.garden() == board.look.system);
    CHECK(
        has(board.heard(), "the garden's time follows, for a sensor's own time agrees"));
  }
  SUBCASE("it stands") {
    board.run(10min - 1s);
    CHECK(board.garden() == kNoon + 10min - 1s);
    CHECK(board.heard().empty());
    board.run(1s);
    CHECK(board.garden() == kNoon + 2h + 10min);
    REQUIRE(board.said.size() == 1);
    CHECK(board.said[0].level == LogLevel::kWarning);
    CHECK(has(board.heard(), "for it has stood for 10 min, though nothing confirms it"));
  }
  SUBCASE("it is undone") {
    board.run(1min);
    board.set(board.look.system - 2h);
    board.run(20min);
    CHECK(board.garden() == kNoon + 21min);
    CHECK(board.heard() == "the clock and the garden's time agree again");
  }
}

TEST_CASE(
    "a confirmed step back is made good at half speed: no second comes twice to two "
    "readings, and no day is longer than the rest") {
  Board board = believed_at_noon();
  board.set(board.look.system - 2h);
  board.tell();
  std::set<Instant> rows{board.garden()};
  board.run(1s);
  CHECK(
      board.heard() ==
      "the clock was set back by 2 h, to 2026-04-12T10:00:00Z, and the garden's time is "
      "2026-04-12T12:00:00Z: it runs at half speed until the two agree, in about 4 h, "
      "for a sensor's own time agrees");
  // A reading every two seconds, as the fastest that are told apart.
  for (int i = 0; i < 2h / 1s; ++i) {
    board.run(2s);
    const Instant row = board.garden();
    CHECK(row > *rows.rbegin());
    rows.insert(row);
  }
  CHECK(board.garden() == board.look.system);
  CHECK(rows.size() == 1 + 2h / 1s);
  CHECK(board.heard() == "the clock and the garden's time agree again");
  board.run(1h);
  CHECK(board.garden() == board.look.system);
  CHECK(board.heard().empty());
}

TEST_CASE("a step back goes on being made good when its witness falls silent") {
  Board board = believed_at_noon();
  board.look.synchronised = true;
  board.set(board.look.system - 10min);
  board.run(1min);
  board.look.synchronised = false;
  board.run(20min);
  CHECK(board.garden() == board.look.system);
}

TEST_CASE("a clock that is slewed while a step back is made good is met all the same") {
  Board board = believed_at_noon(Trust::kGiven);
  board.set(board.look.system - 10min);
  board.run(1min);
  board.set(board.look.system + 30s);
  board.run(1min);
  board.set(board.look.system - 50s);
  board.run(30min);
  CHECK(board.garden() == board.look.system);
}

TEST_CASE("an unconfirmed step back is not followed and said every hour") {
  Board board = believed_at_noon();
  board.set(board.look.system - 2h);
  board.run(3h - 1s);
  CHECK(board.garden() == kNoon + 3h - 1s);
  CHECK(board.said.size() == 3);
  CHECK(board.said[0].level == LogLevel::kWarning);
  CHECK(
      board.said[0].text ==
      "the clock was set back by 2 h, to 2026-04-12T10:00:00Z, and the garden's time is "
      "2026-04-12T12:00:00Z: it goes on by the time that has passed, for nothing "
      "confirms the clock; set it, or if it is right, start with --clock trusted");
  board.said.clear();
  board.tell();
  board.run();
  CHECK(has(board.heard(), "half speed"));
}

TEST_CASE("a step back by more than six hours is for a person to mend") {
  Board board = believed_at_noon(Trust::kGiven);
  board.set(kNoon - 72h);
  board.run(2h - 1s);
  CHECK(board.garden() == kNoon + 2h - 1s);
  REQUIRE(board.said.size() == 2);
  CHECK(board.said[0].level == LogLevel::kError);
  CHECK(
      board.said[0].text ==
      "the clock was set back by 3 days, to 2026-04-09T12:00:00Z, and the garden's time "
      "is 2026-04-12T12:00:00Z: it never runs back, and goes on by the time that has "
      "passed; set the clock, or if it is right, move the store's file away, which "
      "begins a new one, and start again");
  board.said.clear();
  board.set(kNoon + 2h - 1s);
  board.run();
  CHECK(board.heard() == "the clock and the garden's time agree again");
}

TEST_CASE("every step is spoken of, also one upon another") {
  Board board = believed_at_noon();
  board.set(board.look.system - 1h);
  board.run(1min);
  CHECK(has(board.heard(), "set back by 1 h,"));
  board.set(board.look.system - 1h);
  board.run(1min);
  CHECK(has(board.heard(), "set back by 2 h,"));
}

TEST_CASE("whatever is done to the clock, the garden's time never runs back") {
  Board board = believed_at_noon();
  Instant before = board.garden();
  unsigned random = 1;
  const auto next = [&random](unsigned below) {
    random = random * 1'664'525U + 1'013'904'223U;  // any generator would do
    return (random >> 8U) % below;
  };
  for (int i = 0; i < 3'000; ++i) {
    if (next(10) == 0) board.set(board.look.system + seconds{next(20'000)} - 10'000s);
    if (next(100) == 0) board.set(board.garden());
    if (next(20) == 0) board.look.synchronised = !board.look.synchronised;
    if (next(20) == 0) board.tell();
    board.run(seconds{next(90)});
    REQUIRE(board.garden() >= before);
    before = board.garden();
  }
}

// --- restarts

TEST_CASE("a restart of the process goes on with the garden's time as it was") {
  struct Case {
    const char* what;
    seconds step;
  };
  for (const auto& [what, step] :
       {Case{"as it should", 0s}, Case{"step back", -2h}, Case{"step forward", 2h}}) {
    CAPTURE(what);
    Board whole = believed_at_noon();
    whole.tell();
    whole.set(whole.look.system + step);
    whole.run(1min);
    if (step < 0s) whole.tell();
    whole.run(30min);
    Board restarted(GardenClock(Trust::kEarned, whole.garden(), whole.clock.course()),
                    whole.look.system, whole.look.uptime);
    CHECK(restarted.clock.is_believed());
    for (int i = 0; i < 60; ++i) {
      restarted.run(1min);
      whole.run(1min);
      CHECK(restarted.garden() == whole.garden());
    }
  }
}

TEST_CASE("an unconfirmed step forward waits on across a restart") {
  Board board = believed_at_noon();
  board.set(board.look.system + 2h);
  board.run(5min);
  Board restarted(GardenClock(Trust::kEarned, board.garden(), board.clock.course()),
                  board.look.system, board.look.uptime);
  restarted.run(10min - 1s);
  CHECK(restarted.garden() == kNoon + 15min - 1s);
  restarted.run(1s);
  CHECK(restarted.garden() == kNoon + 2h + 15min);
}

TEST_CASE("a new store begins its time anew") {
  Board board(GardenClock(Trust::kGiven, std::nullopt,
                          Course{.zero = kNoon + 72h, .goal = kNoon + 72h}),
              kNoon, 1h);
  board.run();
  CHECK(board.garden() == kNoon);
}

// --- summer time

TEST_CASE(
    "when summer time begins and ends, the garden has a reading a minute, none missing") {
  const Zone berlin = Zone::named("Europe/Berlin").value();
  // The changes of 2026 by directive 2000/84/EC: the last Sundays of March and October,
  // at 01:00 UTC.
  struct Change {
    const char* at;
    std::chrono::minutes hour_before, hour_after;
  };
  for (const auto& [text, hour_before, hour_after] :
       {Change{"2026-03-29T01:00:00Z", 1h, 4h}, Change{"2026-10-25T01:00:00Z", 2h, 3h}}) {
    const Instant change = at(text);
    Board board(GardenClock(Trust::kGiven, std::nullopt), change - 1h, 30s);
    board.run();
    CHECK(berlin.minute_of_day(board.garden()) == hour_before);
    std::vector<Instant> rows{board.garden()};
    for (int minute = 0; minute < 120; ++minute) {
      board.run(1min);
      rows.push_back(board.garden());
    }
    CHECK(berlin.minute_of_day(board.garden()) == hour_after);
    for (std::size_t i = 0; i < rows.size(); ++i)
      CHECK(rows[i] == change - 1h + i * 1min);
    CHECK(board.said.size() == 1);  // that it is believed
  }
}

}  // namespace
}  // namespace rimeward
