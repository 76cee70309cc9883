#include "daemon/notice/sending.h"

#include <set>

#include <doctest/doctest.h>

#include "tests/support/hochfeld.h"

using namespace rimeward;
using namespace rimeward::testing;
using namespace std::chrono_literals;

namespace {

const Zone kZone = berlin();  // two hours ahead of UTC in April

RouteSettings email() {
  RouteSettings route;
  route.kind = "email";
  return route;
}

NoticeRow of_kind(const std::string& kind, const std::string& place = "north-frame") {
  NoticeRow notice;
  notice.kind = kind;
  notice.place = place;
  return notice;
}

}  // namespace

TEST_CASE("quiet hours end at their end, on either side of midnight") {
  const DailySpan night{.from = 22h, .to = 6h + 30min};
  CHECK(after_quiet(night, at("2026-04-12T19:59:00Z"), kZone) ==
        at("2026-04-12T19:59:00Z"));
  CHECK(after_quiet(night, at("2026-04-12T20:00:00Z"), kZone) ==
        at("2026-04-13T04:30:00Z"));
  CHECK(after_quiet(night, at("2026-04-13T01:00:00Z"), kZone) ==
        at("2026-04-13T04:30:00Z"));
  CHECK(after_quiet(night, at("2026-04-13T04:30:00Z"), kZone) ==
        at("2026-04-13T04:30:00Z"));
  const DailySpan siesta{.from = 13h, .to = 15h};
  CHECK(after_quiet(siesta, at("2026-04-12T12:00:00Z"), kZone) ==
        at("2026-04-12T13:00:00Z"));
  CHECK(after_quiet(siesta, at("2026-04-12T13:00:00Z"), kZone) ==
        at("2026-04-12T13:00:00Z"));
}

TEST_CASE("quiet hours are hours of the clock on the wall, when the clocks change too") {
  // Germany, 29 March 2026: 02:00 becomes 03:00 (EU directive 2000/84/EC).
  const DailySpan night{.from = 22h, .to = 6h + 30min};
  CHECK(after_quiet(night, at("2026-03-28T22:00:00Z"), kZone) ==
        at("2026-03-29T04:30:00Z"));
}

TEST_CASE("a danger leaves at once, whatever is quiet or waits for a digest") {
  RouteSettings route = email();
  route.quiet = DailySpan{.from = 22h, .to = 6h};
  route.digest = 17h;
  const Instant night = at("2026-04-12T23:00:00Z");
  CHECK(leaves_at(route, of_kind("danger"), {}, night, kZone) == night);
  CHECK(leaves_at(route, of_kind("cover"), {}, night, kZone) > night);
}

TEST_CASE("a digest gathers what has time, and what has none goes by itself") {
  RouteSettings route = email();
  route.digest = 17h + 30min;
  const Instant afternoon = at("2026-04-12T14:30:00Z");  // 16:30
  const Instant digest = at("2026-04-12T15:30:00Z");
  NoticeRow cover = of_kind("cover");
  cover.deadline = at("2026-04-12T17:30:00Z");
  CHECK(leaves_at(route, cover, {}, afternoon, kZone) == digest);
  cover.deadline = at("2026-04-12T16:00:00Z");  // half an hour after the digest
  CHECK(leaves_at(route, cover, {}, afternoon, kZone) == afternoon);
  CHECK(leaves_at(route, of_kind("vent"), digest - 10min, afternoon, kZone) == afternoon);
  CHECK(leaves_at(route, of_kind("battery"), {}, digest, kZone) == digest);
  CHECK(leaves_at(route, of_kind("battery"), {}, digest + 1s, kZone) == digest + 24h);
}

TEST_CASE("a letter waits for quiet hours, and for no digest") {
  RouteSettings route = email();
  route.quiet = DailySpan{.from = 22h, .to = 8h};
  route.digest = 17h;
  NoticeRow letter = of_kind("morning", "");
  letter.state = NoticeState::kTold;
  CHECK(leaves_at(route, letter, {}, at("2026-04-12T05:00:00Z"), kZone) ==
        at("2026-04-12T06:00:00Z"));
}

TEST_CASE("a route takes its own kinds and places, and what is about the whole garden") {
  RouteSettings route = email();
  route.kinds_for = {"cover", "silent"};
  route.places = {"north-frame"};
  CHECK(is_for(route, of_kind("cover"), "raised"));
  CHECK(is_for(route, of_kind("silent", ""), "raised"));
  CHECK_FALSE(is_for(route, of_kind("cover", "yard"), "raised"));
  CHECK_FALSE(is_for(route, of_kind("danger"), "raised"));
  CHECK(is_for(route, of_kind("cover"), "reminder"));
  CHECK_FALSE(is_for(route, of_kind("cover"), "over"));
  route.kind = "mqtt";
  CHECK(is_for(route, of_kind("cover"), "over"));
}

TEST_CASE(
    "the waits between attempts double up to half an hour, and differ between tellings") {
  std::set<std::int64_t> firsts;
  for (std::int64_t outbox = 1; outbox <= 50; ++outbox) {
    CAPTURE(outbox);
    auto middle = 30s;
    for (int attempts = 1; attempts <= 12; ++attempts) {
      const auto wait = back_off(outbox, attempts);
      CHECK(wait >= middle * 3 / 4);
      CHECK(wait <= middle * 5 / 4);
      CHECK(wait == back_off(outbox, attempts));
      middle = std::min<std::chrono::seconds>(middle * 2, 30min);
    }
    firsts.insert(back_off(outbox, 1).count());
  }
  CHECK(firsts.size() > 8);  // of the sixteen whole seconds from 22 to 37
}
