#include "daemon/notice/outbox.h"

#include <doctest/doctest.h>

#include "tests/support/hochfeld.h"

using namespace rimeward;
using namespace rimeward::testing;
using namespace std::chrono_literals;

namespace {

const Instant kAfternoon = at("2026-04-12T14:30:00Z");

// An outbox on a store in memory, with a route that gathers a digest at 17:30 local time
// and one that sends each telling by itself.
struct Post {
  Garden garden = with_routes();
  Zone zone = berlin();
  Store store = Store::in_memory();
  Changes changes;
  std::map<NoticeId, NoticeRow> notices;
  std::optional<Outbox> outbox = made();

  static Garden with_routes() {
    Garden garden = hochfeld();
    garden.routes.resize(2);
    garden.routes[0].kind = "email";
    garden.routes[0].digest = 17h + 30min;
    garden.routes[1].kind = "command";
    return garden;
  }

  Outbox made() const {
    return {garden, zone, store, [](LogLevel, const std::string&) {}};
  }

  void commit() {
    store.commit(changes);
    changes = {};
  }

  // Killed and started again: what is not in the store is gone.
  void restart() {
    outbox.reset();
    outbox.emplace(made());
  }

  NoticeRow& raise(const std::string& kind, Instant now = kAfternoon,
                   std::optional<Instant> send_until = std::nullopt) {
    const NoticeId id = static_cast<NoticeId>(notices.size()) + 1;
    NoticeRow& notice = notices[id];
    notice.id = id;
    notice.kind = kind;
    notice.subject = notice.place = "north-frame";
    notice.raised_at = now;
    outbox->post(notice, "raised", send_until, now, changes);
    commit();
    return notice;
  }

  const NoticeRow* notice_of(NoticeId id) const {
    const auto found = notices.find(id);
    return found == notices.end() ? nullptr : &found->second;
  }

  std::vector<Parcel> take(Instant now) {
    return outbox->take_due(now, [this](NoticeId id) { return notice_of(id); });
  }

  bool has_due(Instant now) const {
    return outbox->has_due(now, [this](NoticeId id) { return notice_of(id); });
  }

  void answer(const Parcel& parcel, Delivered::Outcome outcome, Instant now) {
    Delivered delivered{
        .route = parcel.route, .outbox = {}, .outcome = outcome, .trouble = {}};
    if (outcome != Delivered::Outcome::kDone) delivered.trouble = "no answer";
    for (const Parcel::Item& item : parcel.items)
      delivered.outbox.push_back(item.row.id);
    static_cast<void>(outbox->delivered(delivered, now, changes));
    commit();
  }
};

}  // namespace

TEST_CASE("a telling is handed over once, tried again with growing waits, then done") {
  Post post;
  post.raise("cover");
  Instant now = kAfternoon;
  auto due = post.take(now);
  REQUIRE(due.size() == 1);
  CHECK(due.front().route == "command-2");
  CHECK(post.take(now).empty());  // under way
  for (const auto middle : {30s, 60s, 120s}) {
    post.answer(due.front(), Delivered::Outcome::kAgain, now);
    CHECK_FALSE(post.has_due(now + middle * 3 / 4 - 1s));
    now += middle * 5 / 4;
    CHECK(post.has_due(now));
    due = post.take(now);
    REQUIRE(due.size() == 1);
  }
  post.answer(due.front(), Delivered::Outcome::kDone, now);
  CHECK(post.take(now + 2h).size() == 1);  // the digest's alone
}

TEST_CASE("a digest is one parcel of all that came since the last one") {
  Post post;
  post.raise("cover");
  post.raise("battery", kAfternoon + 10min);
  post.raise("dry", kAfternoon + 20min);
  const auto due = post.take(at("2026-04-12T15:30:00Z"));
  REQUIRE(due.size() == 2);
  CHECK(due[0].route == "command-2");
  CHECK(due[0].items.size() == 1);
  CHECK(due[1].route == "email-1");
  CHECK(due[1].items.size() == 3);
}

TEST_CASE("a danger goes first and alone, and does not wait for the digest") {
  Post post;
  post.raise("cover");
  post.raise("battery");
  post.raise("danger", kAfternoon + 1min);
  const auto due = post.take(kAfternoon + 1min);
  REQUIRE(due.size() == 2);
  for (const Parcel& parcel : due) {
    CAPTURE(parcel.route);
    REQUIRE(parcel.items.size() == 1);
    CHECK(parcel.items.front().notice.kind == "danger");
  }
}

TEST_CASE("what was under way when the process died is handed over again") {
  Post post;
  post.raise("cover");
  const auto before = post.take(kAfternoon);
  post.restart();
  const auto after = post.take(kAfternoon);
  REQUIRE(after.size() == 1);
  CHECK(after.front().items.front().row.id == before.front().items.front().row.id);
}

TEST_CASE("what is past its end, of an unknown notice or for no route is given up") {
  Post post;
  post.raise("cover", kAfternoon, kAfternoon + 1h);
  post.raise("battery");
  post.outbox->expire(kAfternoon + 59min, {1, 2}, post.changes);
  post.commit();
  CHECK(post.store.waiting_outbox().size() == 4);
  CHECK(post.take(kAfternoon + 1h).front().items.front().notice.kind == "battery");
  CHECK_FALSE(post.has_due(at("2026-04-12T15:29:00Z")));  // what is past its end is not
  post.restart();
  post.outbox->expire(kAfternoon + 1h, {1, 2}, post.changes);
  post.commit();
  CHECK(post.store.waiting_outbox().size() == 2);
  post.garden.routes.pop_back();
  post.outbox->expire(kAfternoon + 1h, {1, 2}, post.changes);
  post.commit();
  CHECK(post.store.waiting_outbox().size() == 1);
  post.outbox->expire(kAfternoon + 1h, {1}, post.changes);
  post.commit();
  CHECK(post.store.waiting_outbox().empty());
}

TEST_CASE("a route fails from its first failure on until something gets through") {
  Post post;
  post.raise("cover");
  const auto due = post.take(kAfternoon);
  post.answer(due.front(), Delivered::Outcome::kAgain, kAfternoon + 1min);
  post.answer(due.front(), Delivered::Outcome::kAgain, kAfternoon + 2min);
  post.restart();
  const auto failing = post.outbox->failing();
  REQUIRE(failing.size() == 1);
  CHECK(failing.front().name == "command-2");
  CHECK(failing.front().failing_since == kAfternoon + 1min);
  CHECK(failing.front().trouble == "no answer");
  post.answer(due.front(), Delivered::Outcome::kDone, kAfternoon + 3min);
  CHECK(post.outbox->failing().empty());
}

TEST_CASE("that a route fails is told by the others only") {
  Post post;
  NoticeRow notice;
  notice.id = 1;
  notice.kind = "route";
  notice.subject = "command-2";
  post.outbox->post(notice, "raised", std::nullopt, kAfternoon, post.changes);
  post.commit();
  const auto waiting = post.store.waiting_outbox();
  REQUIRE(waiting.size() == 1);
  CHECK(waiting.front().route == "email-1");
}
