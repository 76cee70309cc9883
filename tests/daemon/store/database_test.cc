#include "daemon/store/database.h"

#include <chrono>
#include <filesystem>
#include <fstream>
#include <string>

#include <doctest/doctest.h>
#include <sys/fsuid.h>
#include <unistd.h>

#include "tests/daemon/store/store_builders.h"
#include "tests/daemon/store/store_probe.h"
#include "tests/support/scratch_folder.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;
namespace fs = std::filesystem;

constexpr Instant kNoon = std::chrono::sys_days{2026y / 4 / 12} + 12h;

// For root nothing is read-only. This thread asks for files as nobody does while it
// lives.
class AsNobody {
 public:
  AsNobody() {
    if (::geteuid() == 0) ::setfsuid(65534);
  }
  ~AsNobody() {
    if (::geteuid() == 0) ::setfsuid(0);
  }
  AsNobody(const AsNobody&) = delete;
  AsNobody& operator=(const AsNobody&) = delete;
};

// A folder and all in it that everybody may read and nobody may write, while this lives.
class ReadOnlyFolder {
 public:
  explicit ReadOnlyFolder(const fs::path& folder) : folder_(folder) {
    for (const auto& entry : fs::directory_iterator(folder)) {
      fs::permissions(entry, static_cast<fs::perms>(0444));
    }
    fs::permissions(folder, static_cast<fs::perms>(0555));
  }
  ~ReadOnlyFolder() { fs::permissions(folder_, fs::perms::owner_all); }
  ReadOnlyFolder(const ReadOnlyFolder&) = delete;
  ReadOnlyFolder& operator=(const ReadOnlyFolder&) = delete;

 private:
  fs::path folder_;
};

std::string refusal(const fs::path& file, Store::Access access) {
  try {
    Store::open(file, access);
    return "";
  } catch (const StoreError& error) {
    return error.what();
  }
}

TEST_CASE(
    "a reader of a file that is missing is told to start the daemon, and makes none") {
  const ScratchFolder folder;
  const auto file = folder / "garden.db";
  CHECK(refusal(file, Store::Access::kReadOnly) ==
        "store " + file.string() +
            ": there is no such file; start rimewardd once, or give --store FILE");
  CHECK_FALSE(fs::exists(file));
}

TEST_CASE("a file that may not be looked at is not called missing") {
  const ScratchFolder folder;
  const auto file = folder / "garden.db";
  { Store::open(file, Store::Access::kReadWrite); }
  fs::permissions(folder.path(), fs::perms::none);
  {
    const AsNobody nobody;
    CHECK(refusal(file, Store::Access::kReadOnly).find("it cannot be opened; see that") !=
          std::string::npos);
  }
  fs::permissions(folder.path(), fs::perms::owner_all);
}

TEST_CASE("a reader sees each commit of a writer that goes on writing") {
  const ScratchFolder folder;
  Store writer = Store::open(folder / "garden.db", Store::Access::kReadWrite);
  writer.commit(with_readings({{kNoon, 1, 1}}, kNoon));
  const Store reader = Store::open(folder / "garden.db", Store::Access::kReadOnly);
  CHECK(reader.reading_count() == 1);
  for (int i = 1; i <= 5; ++i) {
    const Instant time = kNoon + std::chrono::hours{i};
    writer.commit(with_readings({{time, 1, i}}, time));
    CHECK(reader.reading_count() == i + 1);
  }
  SUBCASE("and in the middle of its visit still sees what it began with") {
    int seen = 0;
    reader.each_reading(kNoon, kNoon + 24h, [&](const ReadingRow&) {
      if (seen++ == 0) writer.commit(with_readings({{kNoon + 20h, 1, 0}}, kNoon + 20h));
    });
    CHECK(seen == 6);
    CHECK(reader.reading_count() == 7);
  }
}

TEST_CASE("a reader cannot write, and says so") {
  const ScratchFolder folder;
  { Store::open(folder / "garden.db", Store::Access::kReadWrite); }
  Store reader = Store::open(folder / "garden.db", Store::Access::kReadOnly);
  CHECK_THROWS_WITH_AS(reader.add_action({.verb = "cover"}),
                       doctest::Contains("it cannot be written; make the file and its "
                                         "folder writable for this user"),
                       StoreError);
}

TEST_CASE("a store on a read-only medium is read, its name with signs that a URI minds") {
  const ScratchFolder folder;
  const auto file = folder / "gar den%20?#.db";
  {
    Store writer = Store::open(file, Store::Access::kReadWrite);
    writer.commit(with_readings({{kNoon, 1, 4200}}, kNoon + 2h));
  }
  const ReadOnlyFolder read_only(folder.path());
  const AsNobody nobody;
  const Store reader = Store::open(file, Store::Access::kReadOnly);
  CHECK(reader.reading_count() == 1);
  CHECK(refusal(file, Store::Access::kReadWrite).find("it cannot be written; make") !=
        std::string::npos);
}

TEST_CASE(
    "a store whose last commits lie in an unreadable log is refused, not half read") {
  const ScratchFolder folder;
  const auto file = folder / "garden.db";
  Store writer = Store::open(file, Store::Access::kReadWrite);
  writer.commit(with_readings({{kNoon, 1, 4200}}, kNoon));
  const auto copy = folder / "copy";
  fs::create_directory(copy);
  fs::copy_file(file, copy / "garden.db");
  fs::copy_file(file.string() + "-wal", copy / "garden.db-wal");
  fs::permissions(folder.path(), static_cast<fs::perms>(0755));

  const ReadOnlyFolder read_only(copy);
  const AsNobody nobody;
  CHECK(refusal(copy / "garden.db", Store::Access::kReadOnly)
            .find("copy the file and the one that ends in -wal to a folder that can be "
                  "written") != std::string::npos);
}

TEST_CASE("a folder that cannot be made is named with the reason") {
  const ScratchFolder folder;
  std::ofstream(folder / "file") << "x";
  const std::string message =
      refusal(folder / "file" / "garden.db", Store::Access::kReadWrite);
  CAPTURE(message);
  CHECK(message.find("its folder cannot be made (") != std::string::npos);
}

TEST_CASE("a full disk is said so, harms nothing, and the same commit works afterwards") {
  const ScratchFolder folder;
  const auto file = folder / "garden.db";
  Probe probe;
  Store store = Store::open(file, Store::Access::kReadWrite);
  store.set_days(hochfeld_days());
  Changes first = with_readings({{kNoon, 1, 1000}}, kNoon);
  first.series = {air_of(1, "yard")};
  store.commit(first);

  Changes large = with_readings({}, kNoon + 48h);
  for (int i = 1; i <= 20'000; ++i) {
    large.readings.push_back({kNoon + std::chrono::seconds{i}, 1, i});
  }
  large.marks["spool"] = 5;
  // Few: full while the readings go in. Many: full while the summaries do.
  for (const int pages : {2, 10, 60}) {
    CAPTURE(pages);
    probe.limit_growth(pages);
    CHECK_THROWS_WITH_AS(store.commit(large),
                         doctest::Contains("the disk is full; free some space, readings "
                                           "are kept in memory meanwhile"),
                         StoreError);
    CHECK(store.reading_count() == 1);
    CHECK_FALSE(store.mark("spool"));
    CHECK(store.latest(1) == Latest{kNoon, 1000});
  }
  probe.lift_limit();
  store.commit(large);
  CHECK(store.reading_count() == 20'001);
  CHECK(store.mark("spool") == 5);
  CHECK(store.extremes(1, kNoon, kNoon + 24h)->high == 20'000);
  CHECK(sqlite_rows(file, "PRAGMA integrity_check") == std::vector<std::string>{"ok"});
}

TEST_CASE("a commit that fails in its last table leaves nothing of itself behind") {
  const ScratchFolder folder;
  const auto file = folder / "garden.db";
  Store store = Store::open(file, Store::Access::kReadWrite);
  sqlite_rows(file,
              "CREATE TRIGGER stop BEFORE INSERT ON mark BEGIN "
              "SELECT RAISE(ABORT, 'the test says no'); END");
  Changes changes = with_readings({{kNoon, 1, 1000}}, kNoon + 3h);
  changes.series = {air_of(1, "yard")};
  changes.marks["spool"] = 1;
  CHECK_THROWS_WITH_AS(store.commit(changes), doctest::Contains("the test says no"),
                       StoreError);
  CHECK(store.all_series().empty());
  CHECK(store.reading_count() == 0);
  sqlite_rows(file, "DROP TRIGGER stop");
  store.commit(changes);
  CHECK(store.reading_count() == 1);
  CHECK(store.mark("spool") == 1);
}

TEST_CASE("a snapshot sees one state of the file, whatever is committed meanwhile") {
  const ScratchFolder folder;
  Store writer = Store::open(folder / "garden.db", Store::Access::kReadWrite);
  writer.commit(with_readings({{kNoon, 1, 1}}, kNoon));
  Database database(folder / "garden.db", Database::Access::kReadOnly);
  const auto count = [&database] {
    Query query(database, "SELECT count(*) FROM recent");
    std::int64_t value = 0;
    if (query.next()) query.read(value);
    return value;
  };
  {
    const Snapshot outer(database);
    CHECK(count() == 1);
    writer.commit(with_readings({{kNoon + 1s, 1, 1}}, kNoon));
    { const Snapshot inner(database); }
    CHECK(count() == 1);
  }
  CHECK(count() == 2);
}

}  // namespace
}  // namespace rimeward
