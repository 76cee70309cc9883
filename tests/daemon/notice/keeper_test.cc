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
  std::optional<Keeper> keeper{std::in_place, garden, evening.zone, store,
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
    keeper.emplace(garden, evening.zone, store, [](LogLevel, const std::string&) {});
  }

  void answer(std::string_view verb, int layers, std::string_view now) {
    keeper->answered(verb, "north-frame", layers, at(now), changes);
  }

  std::vector<OutboxRow> waiting(std::string_view route) const {
    std::vector<OutboxRow> rows = store.waiting_outbox();
    std::erase_if(rows, [&](const OutboxRow& row) { return row.route != route; });
    return rows;
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
  CHECK(watch.waiting("mqtt-1").front().event == "raised");
  REQUIRE(watch.waiting("command-2").size() == 1);
  CHECK(watch.waiting("command-2").front().event == "raised");
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
  CHECK(watch.waiting("command-2").size() == 1);
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
  watch.answer("cover", 1, "2026-04-12T17:20:00Z");
  CHECK(watch.keeper->newest("cover", "north-frame")->state == NoticeState::kRaised);
  watch.answer("cover", 2, "2026-04-12T17:25:00Z");
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
  watch.answer("cover", 1, "2026-04-12T23:04:00Z");
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

TEST_CASE("what got through makes a notice delivered, what failed is counted with it") {
  Watch watch;
  watch.frosty();
  watch.look("2026-04-12T17:05:00Z");
  watch.look("2026-04-12T17:15:00Z");
  const Instant now = at("2026-04-12T17:15:00Z");
  const auto due = watch.keeper->take_due(now);
  REQUIRE(due.size() == 2);
  const auto after = [&](const Parcel& parcel, Delivered::Outcome how) {
    watch.keeper->delivered({.route = parcel.route,
                             .outbox = {parcel.items.front().row.id},
                             .outcome = how,
                             .trouble = {}},
                            now, watch.changes);
    return *watch.keeper->newest("cover", "north-frame");
  };
  CHECK(after(due[0], Delivered::Outcome::kAgain).failures == 1);
  CHECK(after(due[0], Delivered::Outcome::kAgain).state == NoticeState::kRaised);
  CHECK(after(due[1], Delivered::Outcome::kDone).state == NoticeState::kDelivered);
}

TEST_CASE("an evening has one cover notice, that comes back untold unless it is worse") {
  Watch watch;
  watch.evening.forecast("2026-04-12T17:03:00Z", 1.5, 1.0);  // one layer is enough
  watch.look("2026-04-12T17:05:00Z");
  watch.look("2026-04-12T17:15:00Z");
  watch.evening.forecast("2026-04-12T18:03:00Z", 6.0, 1.0);  // no frost after all
  watch.look("2026-04-12T18:05:00Z");
  watch.look("2026-04-12T18:40:00Z");
  CHECK(watch.keeper->newest("cover", "north-frame")->state == NoticeState::kLapsed);

  watch.evening.forecast("2026-04-12T19:33:00Z", 1.5, 1.0);  // and yet
  watch.look("2026-04-12T19:35:00Z");
  watch.look("2026-04-12T19:45:00Z");
  CHECK(watch.store.latest_notices(10).size() == 1);
  CHECK(watch.store.open_notices().front().revision == 1);
  CHECK(watch.waiting("command-2").empty());  // it said so at 17:15
  CHECK(watch.waiting("mqtt-1").back().event == "changed");

  watch.evening.forecast("2026-04-12T20:03:00Z", -6.0, 1.0);
  watch.look("2026-04-12T20:05:00Z");
  CHECK(watch.store.latest_notices(10).size() == 1);
  CHECK(watch.store.open_notices().front().revision == 2);
  REQUIRE(watch.waiting("command-2").size() == 1);
  CHECK(watch.waiting("command-2").front().event == "worse");
}

TEST_CASE("the next evening's cover notice is a new one") {
  Watch watch;
  watch.frosty();
  watch.look("2026-04-12T17:05:00Z");
  watch.look("2026-04-12T17:15:00Z");
  watch.look("2026-04-13T05:00:00Z");
  const auto shift = std::chrono::days{1};
  watch.evening.night = {watch.evening.night.afternoon + shift,
                         watch.evening.night.sunset + shift,
                         watch.evening.night.sunrise + shift};
  watch.evening.outlooks.clear();
  watch.evening.forecast("2026-04-13T17:03:00Z", -1.0, 1.5);
  watch.look("2026-04-13T17:05:00Z");
  watch.look("2026-04-13T17:15:00Z");
  CHECK(watch.store.latest_notices(10).size() == 2);
}

TEST_CASE("whoever has not answered is reminded once, half an hour before the deadline") {
  Watch watch;
  watch.evening.forecast("2026-04-12T14:23:00Z", -1.0, 1.5);
  watch.look("2026-04-12T14:25:00Z");
  watch.look("2026-04-12T14:35:00Z");
  const NoticeRow notice = *watch.keeper->newest("cover", "north-frame");
  REQUIRE(notice.deadline == at("2026-04-12T17:30:00Z"));
  for (const Parcel& parcel : watch.keeper->take_due(at("2026-04-12T14:35:00Z"))) {
    watch.keeper->delivered({.route = parcel.route,
                             .outbox = {parcel.items.front().row.id},
                             .outcome = Delivered::Outcome::kDone,
                             .trouble = {}},
                            at("2026-04-12T14:36:00Z"), watch.changes);
  }
  watch.look("2026-04-12T16:55:00Z");
  CHECK(watch.waiting("command-2").empty());
  watch.look("2026-04-12T17:00:00Z");
  watch.look("2026-04-12T17:05:00Z");
  REQUIRE(watch.waiting("command-2").size() == 1);
  CHECK(watch.waiting("command-2").front().event == "reminder");
  CHECK(watch.waiting("command-2").front().ends_at == notice.deadline);
  watch.restart();
  watch.look("2026-04-12T17:10:00Z");
  CHECK(watch.waiting("command-2").size() == 1);
}

TEST_CASE(
    "who was told just before the deadline, or was never reached, is not reminded") {
  Watch watch;
  watch.frosty();
  watch.look("2026-04-12T17:05:00Z");
  watch.look("2026-04-12T17:15:00Z");  // with a deadline of its own at 17:50
  for (const char* now :
       {"2026-04-12T17:20:00Z", "2026-04-12T17:30:00Z", "2026-04-12T17:45:00Z"}) {
    watch.look(now);
  }
  REQUIRE(watch.waiting("command-2").size() == 1);
  CHECK(watch.waiting("command-2").front().event == "raised");
}

TEST_CASE("a letter is told like a notice and leaves nothing open") {
  Watch watch;
  watch.keeper->announce("morning", "Last night", "It was 3.1 °C.",
                         at("2026-04-12T10:00:00Z"), at("2026-04-12T05:15:00Z"),
                         watch.changes);
  watch.commit("2026-04-12T05:15:00Z");
  CHECK(watch.store.open_notices().empty());
  const auto notices = watch.store.latest_notices(10);
  REQUIRE(notices.size() == 1);
  CHECK(notices.front().state == NoticeState::kTold);
  const auto outbox = watch.store.waiting_outbox();
  REQUIRE(outbox.size() == 1);  // the other route is for frosts
  CHECK(outbox.front().event == "letter");
  CHECK(outbox.front().ends_at == at("2026-04-12T10:00:00Z"));

  const auto due = watch.keeper->take_due(at("2026-04-12T05:15:00Z"));
  REQUIRE(due.size() == 1);
  watch.keeper->delivered({.route = due.front().route,
                           .outbox = {outbox.front().id},
                           .outcome = Delivered::Outcome::kDone,
                           .trouble = {}},
                          at("2026-04-12T05:16:00Z"), watch.changes);
  CHECK(watch.keeper->newest("morning", "the garden")->state == NoticeState::kTold);
}

TEST_CASE("while a kind is muted its notice stands, and is told when the mute is over") {
  Watch watch;
  watch.keeper->mute({.kind = "cover", .place = "", .until = at("2026-04-12T19:00:00Z")},
                     at("2026-04-12T12:00:00Z"), watch.changes);
  watch.frosty();
  watch.look("2026-04-12T17:05:00Z");
  watch.look("2026-04-12T17:15:00Z");
  watch.restart();
  CHECK(watch.store.open_notices().size() == 1);
  CHECK(watch.keeper->take_due(at("2026-04-12T18:59:00Z")).empty());
  CHECK(watch.keeper->take_due(at("2026-04-12T19:00:00Z")).size() == 2);
}

TEST_CASE("muting holds what was raised and not sent, and unmuting lets it go") {
  Watch watch;
  watch.frosty();
  watch.look("2026-04-12T17:05:00Z");
  watch.look("2026-04-12T17:15:00Z");
  const Instant now = at("2026-04-12T17:20:00Z");
  const auto mute_until = [&](std::string_view place, Instant until) {
    watch.keeper->mute({.kind = "cover", .place = std::string(place), .until = until},
                       now, watch.changes);
  };
  mute_until("yard", now + 24h);
  CHECK(watch.keeper->has_due(now));
  mute_until("north-frame", now + 24h);
  CHECK_FALSE(watch.keeper->has_due(now));
  mute_until("north-frame", now);
  CHECK(watch.keeper->take_due(now).size() == 2);
}

TEST_CASE("a notice past its end is not sent late") {
  Watch watch;
  watch.frosty();
  watch.look("2026-04-12T17:05:00Z");
  watch.look("2026-04-12T17:15:00Z");
  watch.look("2026-04-12T21:05:00Z");  // three hours after sunset have passed
  for (const Parcel& parcel : watch.keeper->take_due(at("2026-04-12T21:05:00Z"))) {
    CAPTURE(parcel.route);
    CHECK(parcel.items.front().row.event != "raised");
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
