#include "daemon/store/store_care.h"

#include <algorithm>
#include <cerrno>
#include <cstdlib>
#include <cstring>
#include <system_error>

#include <fcntl.h>
#include <fmt/format.h>
#include <unistd.h>

#include "daemon/store/database.h"
#include "daemon/store/packed_day.h"
#include "daemon/store/readings.h"

namespace rimeward {
namespace {

namespace fs = std::filesystem;

constexpr std::int64_t kMostCounted = 100'000;
constexpr std::size_t kMostFaults = 20;

std::int64_t number(Database& database, std::string_view sql) {
  std::int64_t value = 0;
  Query query(database, sql);
  if (query.next()) query.read(value);
  return value;
}

std::uint64_t bytes_of(const fs::path& file) {
  std::error_code failure;
  const auto size = fs::file_size(file, failure);
  return failure ? 0 : size;
}

fs::path with_ending(const fs::path& file, std::string_view ending) {
  fs::path result = file;
  result += ending;
  return result;
}

std::uint64_t bytes_of_pages(Database& database, std::string_view count) {
  return static_cast<std::uint64_t>(number(database, count) *
                                    number(database, "PRAGMA page_size"));
}

RowCount counted(Database& database, std::string_view kind, std::string_view table) {
  const std::int64_t rows =
      number(database, fmt::format("SELECT count(*) FROM (SELECT 1 FROM {} LIMIT {})",
                                   table, kMostCounted + 1));
  return {kind, std::min(rows, kMostCounted), rows > kMostCounted};
}

// Of the hours, those of summarised days are added up from the days: there may be
// millions.
std::int64_t hours_held(Database& database, const DayGrid& grid) {
  Query days(database, "SELECT max(day), sum(hours) FROM daily");
  std::optional<std::chrono::sys_days> last;
  std::optional<std::int64_t> in_days;
  if (days.next()) days.read(last, in_days);
  std::int64_t later = 0;
  Query rest(database, "SELECT count(*) FROM hourly WHERE hour >= ?",
             last ? grid.ends(*last) : kFirstInstant);
  if (rest.next()) rest.read(later);
  return in_days.value_or(0) + later;
}

std::vector<std::string> faults_in(Database& database, std::string_view pragma) {
  std::vector<std::string> faults;
  Query query(database, pragma);
  std::string line;
  while (query.next()) {
    query.read(line);
    if (line != "ok") faults.push_back(line);
  }
  return faults;
}

std::vector<std::string> packed_days_at_fault(Database& database) {
  std::vector<std::string> faults;
  Query query(database, "SELECT day, series, readings, packed FROM chunk ORDER BY id");
  std::chrono::sys_days day;
  SeriesId series = 0;
  std::int64_t count = 0;
  std::string bytes;
  while (query.next() && faults.size() < kMostFaults) {
    query.read(day, series, count, bytes);
    const auto readings = unpacked(bytes);
    if (readings && std::ssize(*readings) == count) continue;
    faults.push_back(fmt::format(
        "{}: {}", name_of_chunk(day, series),
        readings ? fmt::format("there are {}, not {}", readings->size(), count)
                 : readings.error().message));
  }
  return faults;
}

void pack_all(const fs::path& file, Instant at, const CompactProgress& tell) {
  Store store = Store::open(file, Store::Access::kReadWrite);
  const auto days_left = [&]() -> std::uint64_t {
    const auto oldest = store.packing().oldest_loose;
    if (!oldest || *oldest >= at) return 0;
    return static_cast<std::uint64_t>((at - *oldest) / std::chrono::days{1} + 1);
  };
  const std::uint64_t all = days_left();
  while (store.pack_some(at)) {
    if (tell) tell("packing", all - std::min(all, days_left()), all);
  }
}

// --- the copy

// The copy until it has its name; gone with whatever SQLite puts beside it unless kept.
class Unfinished {
 public:
  explicit Unfinished(const fs::path& copy) : file_(with_ending(copy, ".unfinished")) {
    remove();
  }
  ~Unfinished() { remove(); }
  Unfinished(const Unfinished&) = delete;
  Unfinished& operator=(const Unfinished&) = delete;

  const fs::path& file() const { return file_; }
  void keep_as(const fs::path& name) {
    sync(file_);
    fs::rename(file_, name);
    sync(fs::absolute(name).parent_path());
  }

 private:
  void remove() {
    std::error_code ignored;
    for (const std::string_view ending : {"", "-journal", "-wal", "-shm"}) {
      fs::remove(with_ending(file_, ending), ignored);
    }
  }

  static void sync(const fs::path& path) {
    const int file = ::open(path.c_str(), O_RDONLY | O_CLOEXEC);
    const bool done = file >= 0 && fsync(file) == 0;
    const int failure = errno;
    if (file >= 0) close(file);
    if (!done) throw std::system_error(failure, std::generic_category(), path.string());
  }

  fs::path file_;
};

std::string size_text(std::uint64_t bytes) {
  return fmt::format("{:.1f} MB", static_cast<double>(bytes) / 1e6);
}

// Nothing: it may be written.
std::optional<Error> refusal(const BackupPlan& plan) {
  const auto say = [&plan](const std::string& what) {
    return Error{fmt::format("{}: {}", plan.copy.string(), what)};
  };
  std::error_code failure;
  if (fs::equivalent(plan.copy, plan.store, failure)) {
    return say("this is the store itself; name another file");
  }
  if (fs::is_directory(plan.copy, failure)) {
    return say(fmt::format("this is a folder; name a file in it, such as {}",
                           (plan.copy / plan.store.filename()).string()));
  }
  if (fs::exists(plan.copy, failure) && !plan.may_replace) {
    return say("it is there already; name another file, or add --replace");
  }
  const fs::path folder = fs::absolute(plan.copy).parent_path();
  if (!fs::is_directory(folder, failure)) {
    return say(fmt::format("there is no folder {}; make it first", folder.string()));
  }
  const std::uint64_t needed =
      bytes_of(plan.store) + bytes_of(with_ending(plan.store, "-wal"));
  const fs::space_info space = fs::space(folder, failure);
  if (!failure && space.available < needed) {
    return say(
        fmt::format("the copy may take {}, and the disk has {} left; free some "
                    "space, or name a file on another one",
                    size_text(needed), size_text(space.available)));
  }
  return std::nullopt;
}

}  // namespace

StoreSize size_of_store(const Store& store, const fs::path& file, const DayGrid& grid) {
  Database database(file, Database::Access::kReadOnly);
  const Snapshot snapshot(database);
  StoreSize size;
  size.file_bytes = bytes_of(file);
  size.log_bytes = bytes_of(with_ending(file, "-wal"));
  size.version = static_cast<int>(number(database, "PRAGMA user_version"));
  size.readings = store.reading_count();
  size.oldest = store.next_reading(kFirstInstant);
  size.newest = Readings(database).newest();
  size.free_bytes = bytes_of_pages(database, "PRAGMA freelist_count");
  size.packing = store.packing();
  size.readings_kept_from = store.readings_kept_from();
  size.written = store.written();
  size.days_held =
      number(database, "SELECT count(*) FROM (SELECT DISTINCT day FROM daily)");
  size.rows = {{"readings", size.readings, false},
               {"hours", hours_held(database, grid), false},
               {"days", number(database, "SELECT count(*) FROM daily"), false},
               counted(database, "doubtful", "doubtful"),
               counted(database, "outlooks", "outlook"),
               counted(database, "notices", "notice"),
               counted(database, "noted days", "noted_day")};
  return size;
}

std::vector<std::string> faults_of_store(const fs::path& file) {
  Database database(file, Database::Access::kReadOnly);
  std::vector<std::string> faults = faults_in(database, "PRAGMA integrity_check(20)");
  if (faults.empty()) faults = packed_days_at_fault(database);
  return faults;
}

Result<std::uint64_t> back_up(const BackupPlan& plan, const BackupProgress& tell) {
  if (const auto no = refusal(plan)) return tl::unexpected(*no);
  Unfinished unfinished(plan.copy);
  {
    Database database(plan.store, Database::Access::kReadOnly);
    const auto page = static_cast<std::uint64_t>(number(database, "PRAGMA page_size"));
    database.copy_to(unfinished.file(), [&](std::uint64_t done, std::uint64_t of) {
      if (tell) tell("copying", done * page, of * page);
    });
  }
  const std::uint64_t size = bytes_of(unfinished.file());
  if (tell) tell("checking", 0, std::nullopt);
  {
    Database copy(unfinished.file(), Database::Access::kReadOnly);
    const std::vector<std::string> faults = faults_in(copy, "PRAGMA quick_check(1)");
    if (!faults.empty()) {
      throw StoreError(
          fmt::format("{}: the copy is not whole, and was not kept ({}); see `rimeward "
                      "store --check`",
                      plan.copy.string(), faults.front()));
    }
  }
  unfinished.keep_as(plan.copy);
  return size;
}

Result<Compacted> compact(const fs::path& file, Instant at, const CompactProgress& tell) {
  Compacted compacted{.bytes_before =
                          bytes_of(file) + bytes_of(with_ending(file, "-wal"))};
  pack_all(file, at, tell);
  Database database(file, Database::Access::kReadWrite);
  const std::uint64_t used = bytes_of_pages(database, "PRAGMA page_count") -
                             bytes_of_pages(database, "PRAGMA freelist_count");
  const fs::path folder = fs::absolute(file).parent_path();
  std::error_code failure;
  const fs::space_info space = fs::space(folder, failure);
  // The copy that is made anew, and the log through which it comes into the file.
  if (!failure && space.available < 2 * used) {
    return refuse(fmt::format(
        "{}: shrinking it takes {} for a while, and the disk has {} left; free some "
        "space. All days that are over are packed",
        file.string(), size_text(2 * used), size_text(space.available)));
  }
  if (tell) tell("shrinking", 0, std::nullopt);
  // Beside the store: the folder for temporary files may be memory.
  setenv("SQLITE_TMPDIR", folder.c_str(), 1);
  database.execute("PRAGMA temp_store = FILE");
  database.execute("VACUUM");
  run(database, "PRAGMA wal_checkpoint(TRUNCATE)");
  compacted.bytes_after = bytes_of(file);
  return compacted;
}

}  // namespace rimeward
