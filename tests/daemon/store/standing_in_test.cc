#include "daemon/store/standing_in.h"

#include <chrono>
#include <filesystem>
#include <fstream>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "daemon/store/marks.h"
#include "daemon/store/store.h"
#include "tests/daemon/store/store_builders.h"
#include "tests/daemon/store/store_probe.h"
#include "tests/support/scratch_folder.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;
namespace fs = std::filesystem;

constexpr Instant kNoon = std::chrono::sys_days{2026y / 4 / 12} + 12h;
constexpr std::uint64_t kPage = 4096;

// Ten days of readings of one sensor up to noon, a notice, a cover, something learned.
void fill(const fs::path& file) {
  Store store = Store::open(file, Store::Access::kReadWrite);
  Changes changes;
  changes.series.push_back(
      {.id = 1, .sensor = "probe", .place = "yard", .channel = Channel::kAirTemperature});
  for (Instant time = kNoon - 240h; time <= kNoon; time += 1min)
    changes.readings.push_back({.time = time, .series = 1, .value = 4200});
  NoticeRow notice;
  notice.id = 7;
  notice.kind = "cover";
  notice.subject = notice.place = "yard";
  notice.title = "Fleece the yard tonight";
  changes.notices[7] = notice;
  changes.covers = {{.place = "yard", .since = kNoon - 2400h, .layers = 2}};
  changes.learned[{"yard", "lift"}] = "{}";
  changes.heard["any"] = HeardRow{.topic = "any",
                                  .first_at = kNoon,
                                  .last_at = kNoon,
                                  .count = 1,
                                  .payload = std::string("a\0b'", 4)};
  changes.marks = {{kMarkNow, kNoon.time_since_epoch().count()}, {kMarkSequence, 99}};
  changes.now = kNoon;
  store.commit(changes);
}

std::vector<Instant> times_in(const Store& store) {
  std::vector<Instant> times;
  store.each_reading(kNoon - 9999h, kNoon + 9999h,
                     [&](const ReadingRow& row) { times.push_back(row.time); });
  return times;
}

std::uint64_t root_of(const fs::path& file, const std::string& table) {
  return std::stoull(
      sqlite_rows(file, "SELECT rootpage FROM sqlite_schema WHERE name = '" + table + "'")
          .front());
}

// As a card does that forgets: nothing but zeros.
void wipe(const fs::path& file, std::uint64_t page) {
  std::fstream stream(file, std::ios::in | std::ios::out | std::ios::binary);
  stream.seekp(static_cast<std::streamoff>((page - 1) * kPage));
  const std::string zeros(kPage, '\0');
  stream.write(zeros.data(), static_cast<std::streamsize>(zeros.size()));
  REQUIRE(stream.good());
}

std::string bytes_of(const fs::path& file) {
  std::ifstream stream(file, std::ios::binary);
  return {std::istreambuf_iterator<char>(stream), {}};
}

StoreError failure_of(const fs::path& file) {
  try {
    Store::open(file, Store::Access::kReadWrite);
  } catch (const StoreError& error) {
    return error;
  }
  return StoreError("none");
}

}  // namespace

TEST_CASE("a store that stands in goes on from the newest of the file, and leaves it") {
  const ScratchFolder folder;
  const fs::path file = folder / "gar den%?#.db";
  fill(file);
  const std::string before = bytes_of(file);
  const Store store = Store::standing_in(file, kNoon - 72h);
  const auto times = times_in(store);
  REQUIRE(times.size() == 72 * 60 + 1);
  CHECK(times.front() == kNoon - 72h);
  CHECK(store.hours(1, kNoon - 240h, kNoon).size() == 72);
  REQUIRE(store.open_notices().size() == 1);
  CHECK(store.last_notice_id() == 7);
  REQUIRE(store.covers().size() == 1);
  CHECK(store.covers().front().layers == 2);
  CHECK(store.learned("yard", "lift") == "{}");
  CHECK(store.mark(kMarkSequence) == 99);
  CHECK(store.heard().front().payload == std::string("a\0b'", 4));
  CHECK(bytes_of(file) == before);
  CHECK_FALSE(fs::exists(folder / "gar den%?#.db-wal"));
}

TEST_CASE("what is committed and still in the log is taken over, too") {
  const ScratchFolder folder;
  const fs::path file = folder / "garden.db";
  fill(file);
  Store writer = Store::open(file, Store::Access::kReadWrite);
  writer.commit(with_readings({{kNoon + 1min, 1, 4300}}, kNoon + 1min));
  CHECK(times_in(Store::standing_in(file, kNoon)).back() == kNoon + 1min);
}

TEST_CASE("of a table with a damaged page all else is taken over") {
  const ScratchFolder folder;
  const fs::path file = folder / "garden.db";
  fill(file);
  const std::size_t whole = times_in(Store::standing_in(file, kNoon - 72h)).size();
  // A leaf in the middle of the last days: readings are in the order of time.
  const auto leaves =
      sqlite_rows(file,
                  "SELECT pageno FROM dbstat WHERE name = 'recent' AND pagetype = 'leaf' "
                  "ORDER BY path DESC LIMIT 6");
  REQUIRE(leaves.size() == 6);
  wipe(file, std::stoull(leaves.back()));
  const auto times = times_in(Store::standing_in(file, kNoon - 72h));
  CHECK(times.front() == kNoon - 72h);
  CHECK(times.back() == kNoon);
  CHECK(times.size() < whole);
  CHECK(times.size() > whole / 2);
}

TEST_CASE("a table that cannot be read at all is left out, and the others are not") {
  const ScratchFolder folder;
  const fs::path file = folder / "garden.db";
  fill(file);
  SUBCASE("readings") {
    wipe(file, root_of(file, "recent"));
    const Store store = Store::standing_in(file, kNoon - 72h);
    CHECK(times_in(store).empty());
    CHECK(store.open_notices().size() == 1);
    CHECK_FALSE(store.mark(kMarkSequence));
  }
  SUBCASE("marks: then no action is taken anew") {
    {
      Store store = Store::open(file, Store::Access::kReadWrite);
      store.add_action({.verb = "cover", .place = "yard", .layers = 1});
    }
    REQUIRE(Store::standing_in(file, kNoon).actions_after(0).size() == 0);
    wipe(file, root_of(file, "mark"));
    const Store store = Store::standing_in(file, kNoon);
    CHECK(store.mark(kMarkSequence) == 99);
    CHECK(store.actions_after(0).empty());
    CHECK(store.open_notices().size() == 1);
  }
  SUBCASE("series: then no reading is given to another") {
    wipe(file, root_of(file, "series"));
    const Store store = Store::standing_in(file, kNoon - 72h);
    CHECK(store.all_series().empty());
    CHECK(times_in(store).empty());
  }
}

TEST_CASE("an action that was not taken before the file failed is taken") {
  const ScratchFolder folder;
  const fs::path file = folder / "garden.db";
  fill(file);
  {
    Store store = Store::open(file, Store::Access::kReadWrite);
    Changes changes;
    changes.now = kNoon;
    changes.marks[kMarkAction] = store.add_action({.verb = "cover", .place = "yard"});
    store.commit(changes);
    store.add_action({.verb = "uncover", .place = "yard"});
  }
  const auto actions = Store::standing_in(file, kNoon).actions_after(0);
  REQUIRE(actions.size() == 1);
  CHECK(actions.front().verb == "uncover");
}

TEST_CASE(
    "of a file whose first page is gone nothing is taken over, and that is no end") {
  const ScratchFolder folder;
  const fs::path file = folder / "garden.db";
  fill(file);
  CHECK(last_now_of(file) == kNoon);
  wipe(file, 1);
  CHECK_FALSE(last_now_of(file));
  const Store store = Store::standing_in(file, kNoon - 72h);
  CHECK(times_in(store).empty());
  CHECK(may_be_stood_in_for(failure_of(file), file));
}

TEST_CASE("nobody stands in for a file that is none of ours, nor for none") {
  const ScratchFolder folder;
  const fs::path file = folder / "garden.db";
  SUBCASE("another program's database") {
    sqlite_rows(file, "CREATE TABLE other (id)");
    CHECK_FALSE(may_be_stood_in_for(failure_of(file), file));
  }
  SUBCASE("a newer version") {
    fill(file);
    sqlite_rows(file, "PRAGMA user_version = 999");
    CHECK_FALSE(may_be_stood_in_for(failure_of(file), file));
  }
  SUBCASE("no database at all") {
    std::ofstream(file) << "Bread, butter, string for the peas. "
                        << std::string(9000, 'y');
    CHECK(failure_of(file).fault() == StoreFault::kNoDatabase);
    CHECK_FALSE(may_be_stood_in_for(failure_of(file), file));
  }
  SUBCASE("a folder that is a file") {
    std::ofstream(folder / "wall") << "x";
    const fs::path behind = folder / "wall" / "garden.db";
    CHECK_FALSE(may_be_stood_in_for(failure_of(behind), behind));
  }
  SUBCASE("no file") {
    const StoreError full("full", StoreFault::kFull);
    CHECK_FALSE(may_be_stood_in_for(full, file));
  }
}

TEST_CASE("a damaged file is of use again once another, whole one lies in its place") {
  const ScratchFolder folder;
  const fs::path file = folder / "garden.db";
  fill(file);
  fs::copy(file, folder / "backup.db");
  wipe(file, root_of(file, "recent"));
  AwaitedFile awaited(file, StoreFault::kDamaged);
  std::chrono::steady_clock::time_point at{};
  int moved = 0;
  const auto looks = [&] { return awaited.is_back(at += 1min, [&] { ++moved; }); };
  CHECK_FALSE(looks());
  CHECK_FALSE(looks());
  CHECK(moved == 0);
  SUBCASE("which is looked at only once nobody writes it any more") {
    fs::copy(folder / "backup.db", file, fs::copy_options::overwrite_existing);
    CHECK_FALSE(looks());
    CHECK(moved == 0);
    CHECK(looks());
    CHECK(moved > 10);
    CHECK(looks());
  }
  SUBCASE("and not one that is damaged, too") {
    fs::copy(folder / "backup.db", file, fs::copy_options::overwrite_existing);
    wipe(file, root_of(file, "notice"));
    CHECK_FALSE(looks());
    CHECK_FALSE(looks());
    CHECK(moved > 0);
    moved = 0;
    CHECK_FALSE(looks());
    CHECK(moved == 0);
  }
  SUBCASE("and none is made in the place of one that was moved away") {
    fs::remove(file);
    CHECK_FALSE(looks());
    CHECK_FALSE(looks());
    CHECK_FALSE(fs::exists(file));
  }
}

TEST_CASE("a file whose medium failed is tried again after an hour") {
  const ScratchFolder folder;
  const fs::path file = folder / "garden.db";
  fill(file);
  AwaitedFile awaited(file, StoreFault::kMedium);
  const std::chrono::steady_clock::time_point start{};
  for (auto at = start; at < start + 1h; at += 1min)
    CHECK_FALSE(awaited.is_back(at, [] {}));
  CHECK(awaited.is_back(start + 1h, [] {}));
}

TEST_CASE("a file that could not be opened is tried once a minute") {
  const ScratchFolder folder;
  const fs::path file = folder / "garden.db";
  std::ofstream(file) << "no store yet";
  AwaitedFile awaited(file, StoreFault::kFull);
  const std::chrono::steady_clock::time_point start{};
  CHECK_FALSE(awaited.is_back(start, [] {}));
  fs::remove(file);
  fill(file);
  CHECK_FALSE(awaited.is_back(start + 59s, [] {}));
  CHECK(awaited.is_back(start + 60s, [] {}));
}

}  // namespace rimeward
