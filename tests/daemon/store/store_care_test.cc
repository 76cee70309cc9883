#include "daemon/store/store_care.h"

#include <algorithm>
#include <chrono>
#include <filesystem>
#include <fstream>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "tests/daemon/store/store_builders.h"
#include "tests/daemon/store/store_probe.h"
#include "tests/support/scratch_folder.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;
using std::chrono::days;
using std::chrono::sys_days;
namespace fs = std::filesystem;

constexpr sys_days kDay = 2026y / 4 / 10;

// A reading a minute from kDay on for `span`.
Changes minutes_of(std::chrono::minutes span, Instant from = kDay) {
  Changes changes;
  for (auto n = 0min; n < span; n += 1min)
    changes.readings.push_back({from + n, 1, static_cast<Milli>(n.count() % 9000)});
  changes.now = from + span;
  return changes;
}

// Of one series with two and a half days of minutes.
Store a_store(const fs::path& file) {
  Store store = Store::open(file, Store::Access::kReadWrite);
  store.set_days(hochfeld_days());
  Changes changes = minutes_of(60h);
  changes.series = {air_of(1, "yard")};
  changes.noted_days.push_back({.date = kDay - days{30}, .place = "yard", .low = -2000});
  store.commit(changes);
  return store;
}

std::int64_t rows_of(const StoreSize& size, std::string_view kind) {
  for (const RowCount& one : size.rows) {
    if (one.kind == kind) return one.rows;
  }
  return -1;
}

std::vector<std::string> names_in(const fs::path& folder) {
  std::vector<std::string> names;
  for (const auto& entry : fs::directory_iterator(folder))
    names.push_back(entry.path().filename().string());
  std::ranges::sort(names);
  return names;
}

std::uint64_t backed_up(const BackupPlan& plan) {
  const auto bytes = back_up(plan, {});
  REQUIRE_MESSAGE(bytes, bytes.error().message);
  return *bytes;
}

std::string refused(const BackupPlan& plan) {
  const auto bytes = back_up(plan, {});
  REQUIRE_FALSE(bytes);
  return bytes.error().message;
}

// Spoils `count` bytes in the middle of the file.
void spoil(const fs::path& file, std::streamoff at, std::size_t count) {
  std::fstream stream(file, std::ios::binary | std::ios::in | std::ios::out);
  stream.seekp(at);
  stream << std::string(count, '\x5a');
}

TEST_CASE("the size of a store counts what it holds") {
  const ScratchFolder folder;
  const Store store = a_store(folder / "garden.db");
  const StoreSize size = size_of_store(store, folder / "garden.db", hochfeld_days());
  CHECK(size.file_bytes + size.log_bytes > 50'000);
  CHECK(size.readings == 3600);
  CHECK(size.oldest == Instant{kDay});
  CHECK(size.newest == Instant{kDay} + 60h - 1min);
  // Begun at 09:00 of the garden's clock on 9, 10 and 11 April; the last is over.
  CHECK(size.days_held == 3);
  CHECK(rows_of(size, "hours") == 60);
  CHECK(rows_of(size, "days") == 3);
  CHECK(rows_of(size, "noted days") == 1);
  CHECK(rows_of(size, "notices") == 0);
  CHECK(size.version >= 7);
}

TEST_CASE("an empty store has a size, too") {
  const ScratchFolder folder;
  const Store store = Store::open(folder / "garden.db", Store::Access::kReadWrite);
  const StoreSize size = size_of_store(store, folder / "garden.db", hochfeld_days());
  CHECK(size.readings == 0);
  CHECK_FALSE(size.oldest);
  CHECK_FALSE(size.newest);
  CHECK(rows_of(size, "hours") == 0);
}

TEST_CASE("the size of a store is told without a scan of readings or hours") {
  const ScratchFolder folder;
  const Store store = a_store(folder / "garden.db");
  Probe probe;
  const Store other = Store::open(folder / "garden.db", Store::Access::kReadOnly);
  size_of_store(other, folder / "garden.db", hochfeld_days());
  std::size_t seen = 0;
  for (const std::string& sql : probe.statements()) {
    if (!sql.starts_with("SELECT")) continue;
    for (const std::string& step :
         sqlite_rows(folder / "garden.db", "EXPLAIN QUERY PLAN " + sql)) {
      CAPTURE(sql);
      CAPTURE(step);
      const bool is_large = step.find("recent") != std::string::npos ||
                            step.find("hourly") != std::string::npos;
      if (!is_large) continue;
      ++seen;
      const bool is_one_row = sql.find(" LIMIT 1") != std::string::npos;
      CHECK((step.find("SEARCH") != std::string::npos || is_one_row));
    }
  }
  CHECK(seen >= 3);
}

TEST_CASE("a whole store has no faults, and a spoiled page is found") {
  const ScratchFolder folder;
  const fs::path file = folder / "garden.db";
  { const Store store = a_store(file); }
  CHECK(faults_of_store(file).empty());
  // The middle of the file lies in the readings.
  spoil(file, static_cast<std::streamoff>(fs::file_size(file) / 2 / 4096 * 4096), 200);
  bool is_found = false;
  try {
    is_found = !faults_of_store(file).empty();
  } catch (const StoreError& error) {
    is_found = std::string(error.what()).find("damaged") != std::string::npos;
  }
  CHECK(is_found);
}

TEST_CASE("a backup holds what the store does, in one file") {
  const ScratchFolder folder;
  const Store store = a_store(folder / "garden.db");
  fs::create_directory(folder / "stick");
  const fs::path copy = folder / "stick/copy.db";
  const std::uint64_t bytes = backed_up({.store = folder / "garden.db", .copy = copy});
  CHECK(names_in(folder / "stick") == std::vector<std::string>{"copy.db"});
  CHECK(fs::file_size(copy) == bytes);
  CHECK(faults_of_store(copy).empty());
  Store restored = Store::open(copy, Store::Access::kReadWrite);
  CHECK(restored.reading_count() == 3600);
  CHECK(all_readings(restored, kDay, kDay + 60h) ==
        all_readings(store, kDay, kDay + 60h));
  // It is a store like any other.
  restored.commit(minutes_of(10min, kDay + 60h));
  CHECK(restored.reading_count() == 3610);
}

TEST_CASE("a backup is of one moment, whatever is committed while it is made") {
  const ScratchFolder folder;
  Store writer = a_store(folder / "garden.db");
  Changes much = minutes_of(400h, kDay + 60h);
  writer.commit(much);
  const std::int64_t before = writer.reading_count();
  int steps = 0;
  const auto bytes = back_up(
      {.store = folder / "garden.db", .copy = folder / "copy.db"},
      [&](std::string_view doing, std::uint64_t done, std::optional<std::uint64_t> of) {
        if (doing != "copying") return;
        CHECK(done <= *of);
        ++steps;
        writer.commit(minutes_of(30min, kDay + 460h + steps * 30min));
      });
  REQUIRE(bytes);
  CHECK(steps > 0);
  CHECK(writer.reading_count() == before + steps * 30);
  const Store copy = Store::open(folder / "copy.db", Store::Access::kReadOnly);
  CHECK(copy.reading_count() == before);
  CHECK(faults_of_store(folder / "copy.db").empty());
}

TEST_CASE("a backup replaces an older one only when told to") {
  const ScratchFolder folder;
  const Store store = a_store(folder / "garden.db");
  const BackupPlan plan{.store = folder / "garden.db", .copy = folder / "copy.db"};
  std::ofstream(plan.copy) << "an older one";
  CHECK(refused(plan).ends_with(
      "copy.db: it is there already; name another file, or add --replace"));
  CHECK(fs::file_size(plan.copy) == 12);
  backed_up({.store = plan.store, .copy = plan.copy, .may_replace = true});
  CHECK(faults_of_store(plan.copy).empty());
}

TEST_CASE("a backup is never put over the store, nor where no file can be") {
  const ScratchFolder folder;
  const fs::path file = folder / "garden.db";
  const Store store = a_store(file);
  CHECK(refused({.store = file, .copy = file, .may_replace = true})
            .ends_with("this is the store itself; name another file"));
  fs::create_symlink(file, folder / "link.db");
  CHECK(refused({.store = file, .copy = folder / "link.db", .may_replace = true})
            .ends_with("this is the store itself; name another file"));
  CHECK(refused({.store = file, .copy = folder.path()})
            .find("this is a folder; name a file in it, such as ") != std::string::npos);
  CHECK(refused({.store = file, .copy = folder / "none/copy.db"})
            .find("there is no folder ") != std::string::npos);
  CHECK(store.reading_count() == 3600);
}

TEST_CASE("what an earlier run left unfinished does not stand in the way") {
  const ScratchFolder folder;
  const Store store = a_store(folder / "garden.db");
  std::ofstream(folder / "copy.db.unfinished") << "half a backup";
  backed_up({.store = folder / "garden.db", .copy = folder / "copy.db"});
  CHECK_FALSE(fs::exists(folder / "copy.db.unfinished"));
}

TEST_CASE("a backup that fails leaves no half of one, and the older one as it was") {
  const ScratchFolder folder;
  fs::create_directory(folder / "stick");
  const fs::path file = folder / "garden.db";
  { const Store store = a_store(file); }
  const BackupPlan plan{
      .store = file, .copy = folder / "stick/copy.db", .may_replace = true};
  std::ofstream(plan.copy) << "an older one";

  SUBCASE("because the disk is full") {
    // Of the connections, the one that writes the copy cannot grow its file.
    Probe probe;
    probe.limit_new_files(3);
    std::string message;
    try {
      (void)back_up(plan, {});
    } catch (const StoreError& error) {
      message = error.what();
    }
    CHECK(message.find("the disk is full") != std::string::npos);
  }
  SUBCASE("because the store is damaged") {
    spoil(file, static_cast<std::streamoff>(fs::file_size(file) / 2 / 4096 * 4096), 200);
    CHECK_THROWS_AS((void)back_up(plan, {}), StoreError);
  }
  SUBCASE("because whoever watched it gave up") {
    CHECK_THROWS_AS(
        (void)back_up(plan,
                      [](std::string_view, std::uint64_t, std::optional<std::uint64_t>) {
                        throw StoreError("enough");
                      }),
        StoreError);
  }
  CHECK(names_in(folder / "stick") == std::vector<std::string>{"copy.db"});
  CHECK(fs::file_size(plan.copy) == 12);
}

TEST_CASE("a store that was never packed is compacted, and says the same") {
  const ScratchFolder folder;
  const fs::path file = folder.path() / "garden.db";
  Store store = a_store(file);
  store.commit(minutes_of(std::chrono::hours{24 * 30}, kDay + days{3}));
  const Instant end = kDay + days{33};
  const auto before = all_readings(store, kDay, end);
  std::vector<std::string> doings;
  const auto compacted = compact(file, end,
                                 [&doings](std::string_view doing, std::uint64_t done,
                                           std::optional<std::uint64_t> of) {
                                   if (of) CHECK(done <= *of);
                                   if (doings.empty() || doings.back() != doing)
                                     doings.emplace_back(doing);
                                 });
  REQUIRE(compacted);
  CHECK(doings == std::vector<std::string>{"packing", "shrinking"});
  CHECK(compacted->bytes_after * 3 < compacted->bytes_before);
  CHECK(compacted->bytes_after == fs::file_size(file));
  CHECK(all_readings(store, kDay, end) == before);
  const StoreSize size = size_of_store(store, file, hochfeld_days());
  CHECK(size.free_bytes == 0);
  CHECK(size.packing.oldest_loose == std::nullopt);
  CHECK(faults_of_store(file).empty());
}

TEST_CASE("a day under way is not packed by compacting") {
  const ScratchFolder folder;
  const fs::path file = folder.path() / "garden.db";
  Store store = a_store(file);
  REQUIRE(compact(file, kDay + days{2}, {}));
  CHECK(store.packing().oldest_loose == kDay + days{2});
  CHECK(store.reading_count() == 60 * 60);
}

}  // namespace
}  // namespace rimeward
