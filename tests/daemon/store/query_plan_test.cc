// How SQLite goes about the store's statements, as it tells by EXPLAIN QUERY PLAN
// (sqlite.org/eqp.html): SCAN reads a whole table, SEARCH a stretch of it.

#include <algorithm>
#include <chrono>
#include <string>

#include <doctest/doctest.h>

#include "tests/daemon/store/store_builders.h"
#include "tests/daemon/store/store_probe.h"
#include "tests/support/scratch_folder.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;
using std::chrono::days;
using std::chrono::sys_days;

constexpr sys_days kDay = 2026y / 4 / 12;

// `count` days of two series with a reading an hour, committed at once.
Changes some_days(int count) {
  Changes changes;
  changes.series = {air_of(1, "yard"), air_of(2, "pea-bed")};
  changes.now = kDay + days{count} + 12h + 30min;
  for (Instant at = kDay; at < changes.now; at += 1h) {
    changes.readings.push_back({at, 1, 1000});
    changes.readings.push_back({at, 2, 2000});
  }
  return changes;
}

void use_everything(Store& store) {
  store.set_days(hochfeld_days());
  store.commit(some_days(3));
  Changes late = with_readings({{kDay + 7min, 1, 3000}, {kDay, 1, 1}}, kDay + days{3});
  store.commit(late);
  store.set_days(day_grid("Asia/Kolkata", 9h));
  store.commit(some_days(6));
  const Instant from = kDay + 20min;
  const Instant to = kDay + days{5} + 20min;
  all_readings(store, from, to);
  store.latest(1);
  store.latest_times(1, 5, from);
  store.extremes(1, from, to);
  store.days(kDay, kDay + days{9}, day_grid("Asia/Kolkata", 9h));
  store.days(kDay, kDay + days{9}, hochfeld_days());
  store.doubtful(from, to);
  store.reading_count();
  store.outlooks("yard", kDay, kDay);
  store.nights("yard", kDay, kDay);
  store.learned("yard", "outlook");
  store.covers("yard", from);
  store.open_notices();
  store.notice(1);
  store.last_notice_id();
  store.waiting_outbox();
  store.last_outbox_id();
  store.actions_after(0);
  store.mark("spool");
}

TEST_CASE(
    "no statement but the making anew of days reads a table that grows as a whole") {
  const ScratchFolder folder;
  const auto file = folder / "garden.db";
  Probe probe;
  Store store = Store::open(file, Store::Access::kReadWrite);
  probe.forget();
  use_everything(store);
  const auto statements = probe.statements();

  int explained = 0;
  for (const std::string& sql : statements) {
    const bool is_query = sql.starts_with("SELECT") || sql.starts_with("UPDATE") ||
                          sql.starts_with("INSERT");
    if (!is_query) continue;
    ++explained;
    for (const std::string& step : sqlite_rows(file, "EXPLAIN QUERY PLAN " + sql)) {
      CAPTURE(sql);
      CAPTURE(step);
      const bool ends_at_first = sql.find(" LIMIT 1") != std::string::npos &&
                                 sql.find("WHERE") == std::string::npos;
      // A search of the open ones walks a partial index, which SQLite calls a scan.
      const bool is_open_ones = step.find("notice_open") != std::string::npos ||
                                step.find("outbox_waiting") != std::string::npos;
      CHECK((step.find("SCAN") == std::string::npos || ends_at_first || is_open_ones));
      CHECK(step.find("TEMP B-TREE") == std::string::npos);
    }
  }
  CHECK(explained >= 25);
}

TEST_CASE("a week's days read the same few rows, however long the store has been kept") {
  std::size_t rows_of_short = 0;
  for (const int length : {9, 400}) {
    CAPTURE(length);
    Probe probe;
    Store store = Store::in_memory();
    store.set_days(hochfeld_days());
    store.commit(some_days(length));
    probe.forget();
    const sys_days last = kDay + days{length};
    CHECK(store.days(last - days{6}, last, hochfeld_days()).size() == 14);
    // Two series: 6 closed days, 6 closed hours of the open one, its open hour, and a few
    // rows of the store's own state.
    CHECK(probe.rows() <= 2 * (6 + 6 + 1) + 4);
    if (rows_of_short == 0) rows_of_short = probe.rows();
    CHECK(probe.rows() == rows_of_short);
  }
}

}  // namespace
}  // namespace rimeward
