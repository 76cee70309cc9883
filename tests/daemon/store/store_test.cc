#include "daemon/store/store.h"

#include <chrono>

#include <doctest/doctest.h>

#include "tests/daemon/store/store_builders.h"
#include "tests/daemon/store/store_probe.h"
#include "tests/support/scratch_folder.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;

constexpr std::chrono::sys_days kDay = 2026y / 4 / 12;
constexpr Instant kEvening = kDay + 18h;

OutlookRow full_outlook() {
  return {.place = "north-frame",
          .night = kDay + std::chrono::days{1},
          .moment = 2,
          .issued_at = kEvening,
          .sunset = kEvening + 21s,
          .sunrise = kEvening + 10h,
          .low = Celsius{-1.234567890123},
          .low10 = Celsius{-3.5},
          .low90 = Celsius{0.1},
          .spread_below = 1.0 / 3.0,
          .spread_above = 0.7,
          .running_low = Celsius{4.25},
          .humidity_known = false,
          .air = Celsius{6.125},
          .opinion = Celsius{-0.5},
          .rests_on = "yard"};
}

NoticeRow full_notice() {
  return {.id = 7,
          .kind = "cover",
          .subject = "north-frame",
          .place = "north-frame",
          .state = NoticeState::kDelivered,
          .raised_at = kEvening,
          .spoke_at = kEvening + 60s,
          .deadline = kEvening + 2h,
          .ends_at = kEvening + 12h,
          .closed_at = kEvening + 3h,
          .revision = 3,
          .urgency = 0.25,
          .layers = 2,
          .title = "Fleece the north frame tonight",
          .body = "low -1.2 °C; \"half past eight\"; it's cold\n"};
}

OutboxRow full_outbox() {
  return {.id = 11,
          .notice = 7,
          .revision = 3,
          .route = "mqtt-1",
          .event = "worse",
          .state = OutboxState::kWaiting,
          .due_at = kEvening,
          .ends_at = kEvening + 12h,
          .attempts = 4,
          .delivered_at = kEvening + 5s,
          .trouble = "the broker is away"};
}

// One row of everything, twice: all members set, and as few as may be.
Changes one_of_everything() {
  Changes changes;
  changes.now = kEvening + 30min;
  changes.series = {air_of(1, "north-frame"),
                    {.id = 2,
                     .sensor = "yard-probe",
                     .place = "yard",
                     .channel = Channel::kBatteryVoltage}};
  changes.readings = {{kEvening, 1, -1250}, {kEvening + 1s, 2, 3001}};
  changes.doubtful = {{kEvening, 2, -273.15, Doubt::kRange, "colder than anything"},
                      {kEvening + 9s, 1, 1e6, Doubt::kJump, "hotter than the sun"}};
  changes.outlooks = {full_outlook(), {.place = "yard", .night = kDay}};
  changes.nights = {
      {.place = "yard", .night = kDay, .low = Celsius{0.1}, .low_at = kEvening},
      {.place = "yard",
       .night = kDay + std::chrono::days{1},
       .layers = std::nullopt,
       .lift = 1.25}};
  changes.covers = {{.place = "north-frame", .since = kEvening, .layers = 2},
                    {.place = "north-frame", .since = kEvening - 9h, .layers = 1},
                    {.place = "pea-bed", .since = kEvening, .layers = 0}};
  changes.learned = {{{"yard", "lift"}, R"({"lift":[0.5]})"},
                     {{"yard", "outlook"}, "{}"}};
  changes.matters[{"cover", "north-frame"}] = {.kind = "cover",
                                               .subject = "north-frame",
                                               .holds_since = kEvening,
                                               .gone_since = kEvening + 1s,
                                               .notice = 7,
                                               .settled_urgency = 0.2};
  changes.matters[{"silent", "yard-probe"}] = {.kind = "silent", .subject = "yard-probe"};
  changes.notices[7] = full_notice();
  changes.notices[8] = {.id = 8, .kind = "silent", .subject = "yard-probe"};
  changes.outbox[11] = full_outbox();
  changes.outbox[12] = {.id = 12, .notice = 8, .route = "command-2", .event = "raised"};
  changes.marks = {{"spool", 9'000'000'000}, {"action", -1}};
  return changes;
}

void check_one_of_everything(const Store& store, const Changes& was) {
  const auto tomorrow = kDay + std::chrono::days{1};
  CHECK(store.all_series() == was.series);
  CHECK(all_readings(store, kEvening - 24h, kEvening + 24h) == was.readings);
  CHECK(store.reading_count() == 2);
  CHECK(store.doubtful(kEvening, kEvening + 10s) == was.doubtful);
  CHECK(store.doubtful(kEvening, kEvening + 9s).size() == 1);
  CHECK(store.outlooks("north-frame", tomorrow, tomorrow) ==
        std::vector{was.outlooks[0]});
  CHECK(store.outlooks("yard", kDay, tomorrow) == std::vector{was.outlooks[1]});
  CHECK(store.nights("yard", kDay, tomorrow) == was.nights);
  CHECK(store.nights("yard", tomorrow, tomorrow).size() == 1);
  CHECK(store.covers() == std::vector{was.covers[0], was.covers[2]});
  CHECK(store.covers("north-frame", kEvening - 1h) ==
        std::vector{was.covers[1], was.covers[0]});
  CHECK(store.covers("north-frame", kEvening) == std::vector{was.covers[0]});
  CHECK(store.covers("north-frame", kEvening - 10h).size() == 2);
  CHECK(store.covers("yard", kEvening).empty());
  CHECK(store.learned("yard", "lift") == R"({"lift":[0.5]})");
  CHECK(store.learned("yard", "outlook") == "{}");
  CHECK_FALSE(store.learned("yard", "opinion"));
  CHECK_FALSE(store.learned("pea-bed", "lift"));
  CHECK(store.matters() == std::vector{was.matters.at({"cover", "north-frame"}),
                                       was.matters.at({"silent", "yard-probe"})});
  CHECK(store.notice(7) == was.notices.at(7));
  CHECK_FALSE(store.notice(9));
  CHECK(store.open_notices() == std::vector{was.notices.at(7), was.notices.at(8)});
  CHECK(store.latest_notices(9) == std::vector{was.notices.at(8), was.notices.at(7)});
  CHECK(store.latest_notices(1).size() == 1);
  CHECK(store.waiting_outbox() == std::vector{was.outbox.at(11), was.outbox.at(12)});
  CHECK(store.last_notice_id() == 8);
  CHECK(store.last_outbox_id() == 12);
  CHECK(store.mark("spool") == 9'000'000'000);
  CHECK(store.mark("action") == -1);
  CHECK_FALSE(store.mark("nothing"));
}

TEST_CASE("every row comes back as it was committed, after reopening and read-only too") {
  const ScratchFolder folder;
  const Changes changes = one_of_everything();
  {
    Store store = Store::open(folder / "garden.db", Store::Access::kReadWrite);
    store.set_days(hochfeld_days());
    store.commit(changes);
    check_one_of_everything(store, changes);
  }
  check_one_of_everything(Store::open(folder / "garden.db", Store::Access::kReadWrite),
                          changes);
  check_one_of_everything(Store::open(folder / "garden.db", Store::Access::kReadOnly),
                          changes);
}

TEST_CASE("the same changes committed twice are there once") {
  Store store = Store::in_memory();
  store.set_days(hochfeld_days());
  const Changes changes = one_of_everything();
  store.commit(changes);
  store.commit(changes);
  check_one_of_everything(store, changes);
}

TEST_CASE("an empty store answers nothing and fails at nothing") {
  const Store store = Store::in_memory();
  CHECK(store.all_series().empty());
  CHECK(all_readings(store, Instant::min(), Instant::max()).empty());
  CHECK_FALSE(store.latest(1));
  CHECK(store.latest_times(1, 5, Instant::min()).empty());
  CHECK_FALSE(store.extremes(1, Instant::min(), Instant::max()));
  CHECK(store.days(kDay, kDay + std::chrono::days{7}, hochfeld_days()).empty());
  CHECK(store.reading_count() == 0);
  CHECK(store.last_notice_id() == 0);
  CHECK(store.last_outbox_id() == 0);
  CHECK(store.open_notices().empty());
  CHECK(store.covers().empty());
}

TEST_CASE("a row with the key of a stored one replaces it") {
  Store store = Store::in_memory();
  Changes changes = one_of_everything();
  store.commit(changes);
  changes = {};
  changes.now = kEvening + 31min;
  NoticeRow done = full_notice();
  done.state = NoticeState::kDone;
  OutboxRow sent = full_outbox();
  sent.state = OutboxState::kDelivered;
  OutboxRow hopeless = full_outbox();
  hopeless.id = 12;
  hopeless.state = OutboxState::kGivenUp;
  changes.notices[7] = done;
  changes.outbox = {{11, sent}, {12, hopeless}};
  changes.marks["spool"] = 5;
  store.commit(changes);
  CHECK(store.notice(7) == done);
  CHECK(store.open_notices().size() == 1);
  CHECK(store.waiting_outbox().empty());
  CHECK(store.last_outbox_id() == 12);
  CHECK(store.mark("spool") == 5);
}

TEST_CASE("each state of a notice comes back, and only the open ones as open") {
  Store store = Store::in_memory();
  Changes changes;
  changes.now = kEvening;
  const std::vector states{NoticeState::kRaised, NoticeState::kDelivered,
                           NoticeState::kDone, NoticeState::kOvertaken,
                           NoticeState::kLapsed};
  for (std::size_t i = 0; i < states.size(); ++i) {
    const auto id = static_cast<NoticeId>(i + 1);
    changes.notices[id] = {.id = id, .state = states[i]};
  }
  store.commit(changes);
  for (const auto& [id, row] : changes.notices) {
    CAPTURE(id);
    CHECK(store.notice(id) == row);
  }
  CHECK(store.open_notices() ==
        std::vector{changes.notices.at(1), changes.notices.at(2)});
}

TEST_CASE("a second value for a stored second is dropped when the same, else doubtful") {
  Store store = Store::in_memory();
  store.commit(with_readings({{kEvening, 1, 5000}}, kEvening + 1min));
  const Changes again = with_readings(
      {{kEvening, 1, 5000}, {kEvening, 1, 5100}, {kEvening, 2, 5100}}, kEvening + 2min);
  store.commit(again);
  store.commit(again);
  CHECK(all_readings(store, kEvening, kEvening + 1s) ==
        std::vector<ReadingRow>{{kEvening, 1, 5000}, {kEvening, 2, 5100}});
  const auto doubtful = store.doubtful(kEvening, kEvening + 1s);
  REQUIRE(doubtful.size() == 1);
  CHECK(doubtful[0].series == 1);
  CHECK(doubtful[0].value == doctest::Approx(5.1));
  CHECK(doubtful[0].reason == "a second value for this second; 5 came first");
}

TEST_CASE(
    "two values for one second in one commit: the first is kept, the other doubtful") {
  Store store = Store::in_memory();
  store.commit(with_readings({{kEvening, 1, 5000}, {kEvening, 1, 5100}}, kEvening));
  CHECK(all_readings(store, kEvening, kEvening + 1s) ==
        std::vector<ReadingRow>{{kEvening, 1, 5000}});
  CHECK(store.doubtful(kEvening, kEvening + 1s).size() == 1);
  CHECK(store.reading_count() == 1);
}

TEST_CASE(
    "readings are visited in order of time, then series, and may be asked for within") {
  Store store = Store::in_memory();
  store.commit(with_readings({{kEvening + 2s, 1, 3}, {kEvening, 2, 2}, {kEvening, 1, 1}},
                             kEvening));
  std::vector<Milli> values;
  store.each_reading(kEvening, kEvening + 3s, [&](const ReadingRow& outer) {
    values.push_back(outer.value);
    store.each_reading(kEvening, kEvening + 1s, [&](const ReadingRow& inner) {
      values.push_back(10 * inner.value);
    });
  });
  CHECK(values == std::vector<Milli>{1, 10, 20, 2, 10, 20, 3, 10, 20});
}

TEST_CASE("the newest reading is known while its hour is open and long after it closed") {
  Store store = Store::in_memory();
  Changes changes =
      with_readings({{kEvening + 5min, 1, 200}, {kEvening, 1, 100}}, kEvening + 10min);
  changes.series = {air_of(1, "yard"), air_of(2, "pea-bed")};
  store.commit(changes);
  CHECK(store.latest(1) == Latest{kEvening + 5min, 200});
  CHECK_FALSE(store.latest(2));

  store.commit(with_readings({}, kEvening + 24h * 400));
  CHECK(store.latest(1) == Latest{kEvening + 5min, 200});

  SUBCASE("an older one that comes late does not take its place") {
    store.commit(with_readings({{kEvening + 1min, 1, 300}}, kEvening + 24h * 400));
    CHECK(store.latest(1) == Latest{kEvening + 5min, 200});
  }
  SUBCASE("a newer one that comes late does") {
    store.commit(with_readings({{kEvening + 6min, 1, 300},
                                {kEvening + 5min + 1s, 1, 400},
                                {kEvening + 2h, 2, 7}},
                               kEvening + 24h * 400));
    CHECK(store.latest(1) == Latest{kEvening + 6min, 300});
    CHECK(store.latest(2) == Latest{kEvening + 2h, 7});
  }
  SUBCASE("a series told once more keeps it") {
    changes.readings.clear();
    store.commit(changes);
    CHECK(store.latest(1) == Latest{kEvening + 5min, 200});
  }
}

TEST_CASE(
    "the newest times of a series come newest first, as many as asked, none too old") {
  Store store = Store::in_memory();
  store.commit(with_readings({{kEvening, 1, 0},
                              {kEvening + 1min, 1, 0},
                              {kEvening + 1min, 2, 0},
                              {kEvening + 3min, 1, 0}},
                             kEvening + 2h));
  using Times = std::vector<Instant>;
  CHECK(store.latest_times(1, 2, kEvening) == Times{kEvening + 3min, kEvening + 1min});
  CHECK(store.latest_times(1, 9, kEvening + 1min) ==
        Times{kEvening + 3min, kEvening + 1min});
  CHECK(store.latest_times(1, 9, kEvening + 4min).empty());
  CHECK(store.latest_times(1, 0, kEvening).empty());
  CHECK(store.latest_times(3, 9, kEvening).empty());
}

TEST_CASE(
    "another process can say something between two commits, and the daemon hears it") {
  const ScratchFolder folder;
  Store daemon = Store::open(folder / "garden.db", Store::Access::kReadWrite);
  daemon.set_days(hochfeld_days());
  daemon.commit(one_of_everything());

  Store client = Store::open(folder / "garden.db", Store::Access::kReadWrite);
  ActionRow said{.at = kEvening, .verb = "cover", .place = "north-frame", .layers = 2};
  said.id = client.add_action(said);
  ActionRow done{.at = kEvening + 1s, .verb = "done", .notice = 7};
  done.id = client.add_action(done);
  CHECK(done.id > said.id);

  CHECK(daemon.actions_after(0) == std::vector{said, done});
  CHECK(daemon.actions_after(said.id) == std::vector{done});
  CHECK(daemon.actions_after(done.id).empty());
  daemon.commit(one_of_everything());
}

TEST_CASE("the file keeps a log, is synced at each commit and has pages of 4096 bytes") {
  const ScratchFolder folder;
  const Probe probe;
  const Store store = Store::open(folder / "garden.db", Store::Access::kReadWrite);
  CHECK(sqlite_rows(folder / "garden.db", "PRAGMA journal_mode") ==
        std::vector<std::string>{"wal"});
  CHECK(sqlite_rows(folder / "garden.db", "PRAGMA page_size") ==
        std::vector<std::string>{"4096"});
  for (const char* const setting :
       {"PRAGMA synchronous = FULL;", "PRAGMA cache_size = -1000;",
        "PRAGMA mmap_size = 0;", "PRAGMA journal_size_limit = 4194304;"}) {
    CAPTURE(setting);
    CHECK(probe.statements().count(setting) == 1);
  }
}

}  // namespace
}  // namespace rimeward
