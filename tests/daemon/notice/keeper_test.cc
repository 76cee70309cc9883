#include "daemon/notice/keeper.h"

#include <doctest/doctest.h>

#include "tests/support/situation.h"

using namespace rimeward;
using namespace rimeward::testing;
using namespace std::chrono_literals;

namespace {

// A keeper on a store in memory, and an evening that it looks at.
struct Watch {
  Garden garden = with_routes();
  Store store = Store::in_memory();
  Evening evening;
  Changes changes;
  std::optional<Keeper> keeper{std::in_place, garden, store,
                               [](LogLevel, const std::string&) {}};

  static Garden with_routes() {
    Garden garden = hochfeld();
    RouteSettings shown;
    shown.kind = "mqtt";
    RouteSettings told;
    told.kind = "command";
    told.kinds_for = {"cover", "danger"};
    garden.routes = {shown, told};
    return garden;
  }

  void look(std::string_view now) {
    keeper->look(evening.look(now), changes);
    commit(now);
  }

  void commit(std::string_view now) {
    changes.now = at(now);
    store.commit(changes);
    changes = {};
  }

  // Killed and started again: what is not in the store is gone.
  void restart() {
    keeper.emplace(garden, store, [](LogLevel, const std::string&) {});
  }

  void frosty() { evening.forecast("2026-04-12T17:03:00Z", -1.0, 1.5); }
};

}  // namespace

TEST_CASE("a cover notice is raised once and told by every route that is for it") {
  Watch watch;
  watch.frosty();
  watch.look("2026-04-12T17:05:00Z");
  CHECK(watch.store.open_notices().empty());  // it must stand for ten minutes
  watch.look("2026-04-12T17:10:00Z");
  watch.look("2026-04-12T17:15:00Z");
  watch.look("2026-04-12T17:20:00Z");
  REQUIRE(watch.store.open_notices().size() == 1);
  const NoticeRow notice = watch.store.open_notices().front();
  CHECK(notice.title == "Fleece the north frame tonight");
  CHECK(notice.raised_at == at("2026-04-12T17:15:00Z"));
  const auto outbox = watch.store.waiting_outbox();
  REQUIRE(outbox.size() == 2);
  CHECK(outbox[0].route == "mqtt-1");
  CHECK(outbox[1].route == "command-2");
  CHECK(outbox[1].event == "raised");
}

TEST_CASE("restarted between any two looks, a keeper raises what it would have raised") {
  Watch watch;
  watch.frosty();
  for (const char* now : {"2026-04-12T17:05:00Z", "2026-04-12T17:10:00Z",
                          "2026-04-12T17:15:00Z", "2026-04-12T17:20:00Z"}) {
    watch.look(now);
    watch.restart();
  }
  const auto notices = watch.store.latest_notices(10);
  REQUIRE(notices.size() == 1);
  CHECK(notices.front().raised_at == at("2026-04-12T17:15:00Z"));
  CHECK(watch.store.waiting_outbox().size() == 2);
}

TEST_CASE("danger takes a cover notice over, and no second one is raised that night") {
  Watch watch;
  watch.frosty();
  watch.look("2026-04-12T17:05:00Z");
  watch.look("2026-04-12T17:15:00Z");
  watch.evening.cooling("2026-04-12T19:00:00Z", -3.5, -2.0);  // below all that was told
  watch.evening.cover_notice = *watch.keeper->newest("cover", "north-frame");
  watch.look("2026-04-12T19:00:00Z");
  const auto notices = watch.store.latest_notices(10);
  REQUIRE(notices.size() == 2);
  CHECK(notices[0].kind == "danger");
  CHECK(notices[1].state == NoticeState::kOvertaken);
  watch.look("2026-04-12T19:30:00Z");
  CHECK(watch.store.latest_notices(10).size() == 2);
}

TEST_CASE("covering with enough layers answers the notice, with too few it does not") {
  Watch watch;
  watch.frosty();
  watch.look("2026-04-12T17:05:00Z");
  watch.look("2026-04-12T17:15:00Z");
  watch.keeper->covered("north-frame", 1, at("2026-04-12T17:20:00Z"), watch.changes);
  CHECK(watch.keeper->newest("cover", "north-frame")->state == NoticeState::kRaised);
  watch.keeper->covered("north-frame", 2, at("2026-04-12T17:25:00Z"), watch.changes);
  CHECK(watch.keeper->newest("cover", "north-frame")->state == NoticeState::kDone);
}

TEST_CASE(
    "covering a place answers its danger, which then speaks only when it is worse") {
  Watch watch;
  watch.evening.cooling("2026-04-12T23:00:00Z", 1.8, -1.2);
  watch.look("2026-04-12T23:00:00Z");
  const NoticeRow danger = *watch.keeper->newest("danger", "north-frame");
  CHECK(danger.title == "Cover the north frame now");
  CHECK(danger.layers == 1);
  watch.keeper->covered("north-frame", 1, at("2026-04-12T23:04:00Z"), watch.changes);
  watch.evening.cover_layers = 1;
  watch.look("2026-04-12T23:05:00Z");
  CHECK(watch.keeper->newest("danger", "north-frame")->state == NoticeState::kDone);
  watch.evening.cooling("2026-04-12T23:30:00Z", 0.9, -1.2);
  watch.look("2026-04-12T23:30:00Z");
  CHECK(watch.keeper->newest("danger", "north-frame")->title ==
        "Put another layer on the north frame now");
}

TEST_CASE("done answers an open notice once") {
  Watch watch;
  watch.frosty();
  watch.look("2026-04-12T17:05:00Z");
  watch.look("2026-04-12T17:15:00Z");
  const NoticeId id = watch.store.last_notice_id();
  CHECK(watch.keeper->mark_done(id, at("2026-04-12T17:20:00Z"), watch.changes) !=
        nullptr);
  CHECK(watch.keeper->mark_done(id, at("2026-04-12T17:21:00Z"), watch.changes) ==
        nullptr);
  CHECK(watch.keeper->mark_done(99, at("2026-04-12T17:21:00Z"), watch.changes) ==
        nullptr);
  watch.commit("2026-04-12T17:20:00Z");
  // Only the route that shows what stands is told of the end.
  const auto outbox = watch.store.waiting_outbox();
  REQUIRE(outbox.size() == 1);
  CHECK(outbox.front().event == "over");
  watch.look("2026-04-12T18:00:00Z");
  CHECK(watch.store.latest_notices(10).size() == 1);
}

TEST_CASE("a delivery is handed over once, tried again with growing waits, then done") {
  Watch watch;
  watch.frosty();
  watch.look("2026-04-12T17:05:00Z");
  watch.look("2026-04-12T17:15:00Z");
  Instant now = at("2026-04-12T17:15:00Z");
  auto due = watch.keeper->take_due(now);
  REQUIRE(due.size() == 2);
  CHECK(due[0].second.title == "Fleece the north frame tonight");
  CHECK(watch.keeper->take_due(now).empty());  // under way

  const auto outbox = due[1].first.id;
  const auto fail = [&] {
    watch.keeper->delivered({outbox, Delivered::Outcome::kAgain, "no answer"}, now,
                            watch.changes);
  };
  fail();
  CHECK(watch.keeper->take_due(now + 29s).empty());
  CHECK(watch.keeper->take_due(now + 30s).size() == 1);
  now += 30s;
  fail();
  CHECK(watch.keeper->take_due(now + 59s).empty());
  CHECK(watch.keeper->take_due(now + 60s).size() == 1);
  CHECK(watch.keeper->newest("cover", "north-frame")->failures == 2);
  CHECK(watch.keeper->newest("cover", "north-frame")->state == NoticeState::kRaised);

  watch.keeper->delivered({outbox, Delivered::Outcome::kDone}, now, watch.changes);
  CHECK(watch.keeper->newest("cover", "north-frame")->state == NoticeState::kDelivered);
  CHECK(watch.keeper->take_due(now + 2h).empty());
}

TEST_CASE("a notice past its end is not sent late") {
  Watch watch;
  watch.frosty();
  watch.look("2026-04-12T17:05:00Z");
  watch.look("2026-04-12T17:15:00Z");
  watch.look("2026-04-12T21:05:00Z");  // three hours after sunset have passed
  for (const auto& [row, notice] : watch.keeper->take_due(at("2026-04-12T21:05:00Z"))) {
    CAPTURE(row.route);
    CHECK(row.event != "raised");
  }
}

TEST_CASE("a delivery that was under way when the process died is handed over again") {
  Watch watch;
  watch.frosty();
  watch.look("2026-04-12T17:05:00Z");
  watch.look("2026-04-12T17:15:00Z");
  CHECK(watch.keeper->take_due(at("2026-04-12T17:15:00Z")).size() == 2);
  watch.restart();
  CHECK(watch.keeper->take_due(at("2026-04-12T17:15:00Z")).size() == 2);
}
