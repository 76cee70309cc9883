#include <doctest/doctest.h>

#include "daemon/notice/keeper.h"
#include "daemon/notice/rule.h"
#include "tests/support/situation.h"

using namespace rimeward;
using namespace rimeward::testing;
using namespace std::chrono_literals;

namespace {

const Instant kFailed = at("2026-04-12T12:05:00Z");

struct Trouble {
  Evening evening;
  std::optional<StoreTrouble> trouble{{.fault = StoreFault::kFull, .since = kFailed}};

  Situation look(Instant now) const {
    Situation situation = evening.look("2026-04-12T12:00:00Z");
    situation.now = now;
    situation.store_file = "/var/lib/rimeward/garden.db";
    situation.store_trouble = trouble;
    return situation;
  }

  Finding find(Instant now = kFailed + 10min) const {
    const auto findings = find_store(look(now));
    REQUIRE(findings.size() == 1);
    return findings.front();
  }
  std::string told(StoreFault fault) {
    trouble->fault = fault;
    return find().body;
  }
};

// The garden's notices, as they come to stand in a store that takes all.
struct Kept {
  Trouble trouble;
  Garden settings = garden();
  Store store = Store::in_memory();
  Keeper keeper{settings, trouble.evening.zone, store,
                [](LogLevel, const std::string&) {}};

  static Garden garden() {
    Garden garden = hochfeld();
    RouteSettings email;
    email.kind = "email";
    RouteSettings display;
    display.kind = "mqtt";
    garden.routes = {email, display};
    return garden;
  }
  std::vector<NoticeRow> open_at(Instant now) {
    Changes changes;
    keeper.look(trouble.look(now), changes);
    changes.now = now;
    store.commit(changes);
    return store.open_notices();
  }
};

}  // namespace

TEST_CASE("nothing is said of a store that takes readings") {
  Trouble well;
  well.trouble.reset();
  CHECK(find_store(well.look(kFailed)).empty());
}

TEST_CASE(
    "a store is told once it has taken nothing for three minutes, with what to do") {
  const Trouble full;
  CHECK_FALSE(full.find(kFailed + 3min - 1s).holds);
  const Finding finding = full.find(kFailed + 3min);
  CHECK(finding.holds);
  CHECK(finding.subject == "the garden");
  CHECK(finding.place.empty());
  CHECK(finding.title == "The store takes no readings");
  CHECK(finding.body ==
        "It has taken none since 14:05 on Sun 2026-04-12: its disk is full. Readings and "
        "advice go on from memory. Nothing is lost once it is mended; if the power fails "
        "before that, what was measured since 14:05 on Sun 2026-04-12 is. What you tell "
        "at the terminal cannot be written down until then. Free some space on the disk "
        "that /var/lib/rimeward is on: move away or delete what is not needed. Leave "
        "/var/lib/rimeward/garden.db where it is, and the files whose names begin like "
        "it.");
}

TEST_CASE("what to do goes by what is wrong") {
  Trouble trouble;
  const auto says = [&](StoreFault fault, const std::string& words) {
    const std::string body = trouble.told(fault);
    CAPTURE(body);
    CHECK(body.find(words) != std::string::npos);
  };
  says(StoreFault::kNotWritable,
       "A card that has turned read-only by itself may be dying");
  says(StoreFault::kMedium, "with rimeward backup while it can still be read");
  says(StoreFault::kDamaged, "its file is damaged");
  says(StoreFault::kDamaged, "end in -wal and -shm; put your last backup in its place");
  says(StoreFault::kNoDatabase, "put your last backup in its place");
  says(StoreFault::kHeld, "See which program has /var/lib/rimeward/garden.db open");
  says(StoreFault::kUnreachable, "See that /var/lib/rimeward is there, has room");
  says(StoreFault::kOther, "the daemon's log says more");
  says(StoreFault::kSlow, "A card that gets slow is often about to fail");
}

TEST_CASE("of a slow store nobody hears that it takes no readings") {
  Trouble slow;
  CHECK(slow.told(StoreFault::kSlow).find("from memory") == std::string::npos);
  CHECK(slow.find().title == "The store is slow");
}

TEST_CASE("a store that another stands in for is told at once") {
  Trouble trouble;
  trouble.trouble->stands_in = true;
  CHECK(trouble.find(kFailed).holds);
}

TEST_CASE(
    "a store that fails is told anew each day, and when it turns out to be damaged") {
  Kept kept;
  REQUIRE(kept.open_at(kFailed + 5min).size() == 1);
  CHECK(kept.open_at(kFailed + 24h - 5min).front().revision == 1);
  CHECK(kept.open_at(kFailed + 24h).front().revision == 2);
  kept.trouble.trouble->fault = StoreFault::kDamaged;
  CHECK(kept.open_at(kFailed + 24h + 5min).front().revision == 3);
  CHECK(kept.open_at(kFailed + 24h + 10min).front().revision == 3);
}

TEST_CASE("its notice is over ten minutes after the store takes readings again") {
  Kept kept;
  REQUIRE(kept.open_at(kFailed + 5min).size() == 1);
  CHECK(kept.store.open_notices().front().kind == "store");
  kept.trouble.trouble->over_at = kFailed + 7min;
  SUBCASE("and says that nothing was lost") {
    const auto open = kept.open_at(kFailed + 15min);
    REQUIRE(open.size() == 1);
    CHECK(open.front().title == "The store takes readings again");
    CHECK(open.front().body ==
          "It has done so since 14:12 on Sun 2026-04-12; nothing was lost.");
    CHECK(open.front().revision == 1);
    CHECK(kept.open_at(kFailed + 20min).empty());
    CHECK(kept.store.notice(1)->state == NoticeState::kLapsed);
    CHECK(kept.store.waiting_outbox().back().event == "over");
  }
  SUBCASE("and goes on where the store fails again before that") {
    kept.open_at(kFailed + 15min);
    kept.trouble.trouble = StoreTrouble{.since = kFailed + 16min};
    const auto open = kept.open_at(kFailed + 20min);
    REQUIRE(open.size() == 1);
    CHECK(open.front().id == 1);
    CHECK(open.front().revision == 1);
    CHECK(open.front().title == "The store takes no readings");
  }
}

TEST_CASE("a store that was well again before anybody was told is not told at all") {
  Kept kept;
  CHECK(kept.open_at(kFailed + 2min).empty());
  kept.trouble.trouble->over_at = kFailed + 2min;
  CHECK(kept.open_at(kFailed + 5min).empty());
  CHECK(kept.store.last_notice_id() == 0);
}

TEST_CASE("how a store came back is said as it was") {
  Trouble trouble;
  trouble.trouble->over_at = kFailed + 1h;
  const auto said = [&] { return trouble.find(kFailed + 1h).body; };
  trouble.trouble->lost_some = true;
  CHECK(said() ==
        "It has done so since 15:05 on Sun 2026-04-12. It had taken none since 14:05 on "
        "Sun 2026-04-12, for too long to keep all: the oldest readings that waited were "
        "let go.");
  trouble.trouble->stands_in = true;
  CHECK(said() ==
        "It can be opened again since 15:05 on Sun 2026-04-12; what was measured since "
        "14:05 on Sun 2026-04-12 is put into it.");
  trouble.trouble =
      StoreTrouble{.fault = StoreFault::kSlow, .since = kFailed, .over_at = kFailed + 1h};
  CHECK(said() == "It has been so since 15:05 on Sun 2026-04-12; nothing was lost.");
}

TEST_CASE("in German a store that fails is told in German") {
  const Trouble full;
  Situation situation = full.look(kFailed + 5min);
  situation.wording = german(full.evening.zone);
  const Finding finding = find_store(situation).front();
  CHECK(finding.title == "Der Speicher nimmt keine Messwerte an");
  CHECK(finding.body.starts_with(
      "Er nimmt seit 14:05 Uhr am So, 12.4.2026 keine an: der Datenträger ist voll. "));
  CHECK(finding.body.find("Auf dem Datenträger von /var/lib/rimeward Platz schaffen") !=
        std::string::npos);
}
