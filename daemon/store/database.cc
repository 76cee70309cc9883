#include "daemon/store/database.h"

#include <system_error>
#include <utility>

#include <SQLiteCpp/Backup.h>
#include <fcntl.h>
#include <fmt/format.h>
#include <sqlite3.h>
#include <unistd.h>

namespace rimeward {
namespace {

namespace fs = std::filesystem;

constexpr int kBusyTimeoutMilliseconds = 5000;

// FULL costs the same as NORMAL when commits are a minute apart, and NORMAL loses back to
// the last checkpoint on a power cut. The cache is in kB; no mmap, because it bought
// nothing and counts as memory in use; a log that a long reader made grow is cut back.
constexpr auto kSettings =
    "PRAGMA synchronous = FULL;"
    "PRAGMA cache_size = -1000;"
    "PRAGMA mmap_size = 0;"
    "PRAGMA journal_size_limit = 4194304;"
    "PRAGMA foreign_keys = OFF;"
    "PRAGMA temp_store = MEMORY;"
    "PRAGMA trusted_schema = OFF;";

// Of a copy, before it is told how far it is: 4 MB.
constexpr int kPagesAtOnce = 1024;
// Nobody looks at the copy until it is synced whole.
constexpr auto kSettingsOfCopy =
    "PRAGMA synchronous = OFF;"
    "PRAGMA cache_size = -1000;"
    "PRAGMA mmap_size = 0;";

constexpr std::string_view kDiskFull =
    "the disk is full; free some space, readings are kept in memory meanwhile";
constexpr std::string_view kCannotBeWritten =
    "it cannot be written; make the file and its folder writable for this user, or put "
    "the store on another medium";

struct Meaning {
  StoreFault fault;
  std::string_view words;
};

// What a failure means to the keeper of the garden, and what to do.
Meaning meaning(int code, int extended_code) {
  // The shared index of the log cannot grow: that is a full disk by another name.
  if (extended_code == SQLITE_IOERR_SHMSIZE) return {StoreFault::kFull, kDiskFull};
  switch (code) {
    case SQLITE_FULL:
      return {StoreFault::kFull, kDiskFull};
    case SQLITE_READONLY:
      return {StoreFault::kNotWritable, kCannotBeWritten};
    case SQLITE_CORRUPT:
      return {StoreFault::kDamaged,
              "it is damaged; restore a backup, the file was left as it is"};
    case SQLITE_NOTADB:
      return {StoreFault::kNoDatabase,
              "it is no store, nor any database; name another file, this one was left as "
              "it is"};
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
      return {StoreFault::kHeld,
              "another program holds it; close that program and try again"};
    case SQLITE_CANTOPEN:
      return {StoreFault::kUnreachable,
              "it cannot be opened; see that its folder is there and that this user may "
              "read and write it"};
    case SQLITE_IOERR:
      return {StoreFault::kMedium,
              "the medium failed; see the system's log for the disk, and keep a backup"};
    default:
      return {StoreFault::kOther, "it failed in a way that was not foreseen"};
  }
}

// Why a copy came to nothing; the file is the copy's, but where the store is to blame.
std::string trouble_of_copy(const SQLite::Exception& failure, const fs::path& file,
                            const std::string& store) {
  switch (failure.getErrorCode() & 0xff) {
    case SQLITE_CORRUPT:
    case SQLITE_NOTADB:
      return fmt::format("store {}: it is damaged and cannot be copied (SQLite: {})",
                         store, failure.what());
    case SQLITE_FULL:
      return fmt::format(
          "{}: the disk is full; free some space, or name a file on another "
          "one",
          file.string());
    default:
      return fmt::format(
          "{}: it cannot be written; see that its folder is there, and that "
          "this user may write in it (SQLite: {})",
          file.string(), failure.what());
  }
}

// SQLite's form of a path, with how to open it.
std::string uri_of(const fs::path& file, std::string_view how) {
  std::string uri = "file:";
  for (const char c : file.string()) {
    if (c == '%' || c == '?' || c == '#') {
      uri += fmt::format("%{:02X}", static_cast<unsigned char>(c));
    } else {
      uri += c;
    }
  }
  return fmt::format("{}?{}", uri, how);
}

// For a medium on which nothing can be made, not even locks.
constexpr std::string_view kImmutable = "immutable=1";

// SQLite makes a file that the group may never write, whatever the umask, and gives those
// beside it the same mode. One that is there is not touched: to close it would let go of
// the locks that another connection of this process has on it. What fails, SQLite tells.
void make_by_umask(const fs::path& file) {
  const int made = ::open(file.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0666);
  if (made >= 0) ::close(made);
}

bool holds_something(const fs::path& file) {
  std::error_code ignored;
  const auto size = fs::file_size(file, ignored);
  return !ignored && size > 0;
}

}  // namespace

Database::Database(const fs::path& file, Access access) : name_(file.string()) {
  if (access == Access::kReadOnly) {
    open_read_only(file);
  } else {
    std::error_code failure;
    if (file.has_parent_path()) fs::create_directories(file.parent_path(), failure);
    if (failure) {
      throw error(
          fmt::format("its folder cannot be made ({}); make it, or name another "
                      "file under [store]",
                      failure.message()));
    }
    make_by_umask(file);
    connect(name_, SQLite::OPEN_READWRITE | SQLite::OPEN_CREATE);
    if (is_read_only()) throw error(kCannotBeWritten, StoreFault::kNotWritable);
  }
  execute(kSettings);
}

Database::Database() {
  // By address, so that what is attached to it may be named by one, too.
  connect(":memory:", SQLite::OPEN_READWRITE | SQLite::OPEN_CREATE | SQLite::OPEN_URI);
  execute(kSettings);
}

void Database::connect(const std::string& target, int flags) {
  try {
    connection_ = std::make_unique<SQLite::Database>(target, flags | SQLite::OPEN_NOMUTEX,
                                                     kBusyTimeoutMilliseconds);
  } catch (const SQLite::Exception& failure) {
    throw translated(failure);
  }
}

void Database::open_read_only(const fs::path& file) {
  std::error_code failure;
  if (!fs::exists(file, failure) && !failure) {
    throw error("there is no such file; start rimewardd once, or give --store FILE");
  }
  connect(name_, SQLite::OPEN_READONLY);
  try {
    // The first look at the file also makes the log's shared index, if it is not there.
    connection_->execAndGet("PRAGMA user_version");
    return;
  } catch (const SQLite::Exception& refusal) {
    const int code = refusal.getErrorCode() & 0xff;
    if (code != SQLITE_CANTOPEN && code != SQLITE_READONLY) throw translated(refusal);
    // What is still in the log would go unread, and the file without it may be torn.
    if (holds_something(name_ + "-wal")) {
      throw error(
          "its last commits are in a log that cannot be read from here; copy the file "
          "and the one that ends in -wal to a folder that can be written");
    }
  }
  connect(uri_of(file, kImmutable), SQLite::OPEN_READONLY | SQLite::OPEN_URI);
}

bool Database::is_read_only() const {
  return sqlite3_db_readonly(connection_->getHandle(), "main") == 1;
}

// From one state of the file: a copy that starts over whenever another program commits,
// as SQLite's does without (sqlite.org/backup.html), may never end on a slow card. The
// log keeps what is committed meanwhile.
void Database::copy_to(const fs::path& file, const Copied& tell) {
  const Snapshot snapshot(*this);
  // A transaction sees the file from its first look on.
  execute("SELECT count(*) FROM sqlite_schema");
  try {
    SQLite::Database copy(file.string(), SQLite::OPEN_READWRITE | SQLite::OPEN_CREATE |
                                             SQLite::OPEN_NOMUTEX);
    copy.exec(kSettingsOfCopy);
    {
      SQLite::Backup backup(copy, *connection_);
      int state = SQLITE_OK;
      while (state != SQLITE_DONE) {
        state = backup.executeStep(kPagesAtOnce);
        if (state != SQLITE_OK && state != SQLITE_DONE) {
          throw SQLite::Exception("locked", state);
        }
        const auto of = static_cast<std::uint64_t>(backup.getTotalPageCount());
        if (tell)
          tell(of - static_cast<std::uint64_t>(backup.getRemainingPageCount()), of);
      }
    }
    copy.exec("PRAGMA journal_mode = DELETE");
  } catch (const SQLite::Exception& failure) {
    throw StoreError(trouble_of_copy(failure, file, name_));
  }
}

// Without a log there is nothing to be missed, and nothing needs to be made to read it.
// A log that cannot be read leaves the file as of the last time it was emptied.
void Database::attach(const fs::path& file, std::string_view name) {
  const auto try_as = [&](std::string_view how) {
    run(*this, fmt::format("ATTACH ? AS {}", name), uri_of(file, how));
    try {
      Query(*this, fmt::format("SELECT count(*) FROM {}.sqlite_schema", name)).next();
    } catch (const StoreError&) {
      detach(name);
      throw;
    }
  };
  if (holds_something(file.string() + "-wal")) {
    try {
      return try_as("mode=ro");
    } catch (const StoreError&) {
      // As if there was none.
    }
  }
  try_as(kImmutable);
}

void Database::detach(std::string_view name) {
  idle_.clear();
  execute(fmt::format("DETACH {}", name));
}

void Database::execute(const std::string& sql) {
  try {
    connection_->exec(sql);
  } catch (const SQLite::Exception& failure) {
    throw translated(failure);
  }
}

void Database::give_back_memory() {
  idle_.clear();
  sqlite3_db_release_memory(connection_->getHandle());
}

StoreError Database::error(std::string_view what, StoreFault fault) const {
  if (name_.empty()) return StoreError(fmt::format("store in memory: {}", what), fault);
  return StoreError(fmt::format("store {}: {}", name_, what), fault);
}

StoreError Database::damage(std::string_view what) const {
  return error(fmt::format("it is damaged ({}); restore a backup", what),
               StoreFault::kDamaged);
}

StoreError Database::translated(const SQLite::Exception& failure) const {
  const auto [fault, words] =
      meaning(failure.getErrorCode() & 0xff, failure.getExtendedErrorCode());
  return error(fmt::format("{} (SQLite: {})", words, failure.what()), fault);
}

std::unique_ptr<SQLite::Statement> Database::borrow(std::string_view sql) {
  const auto found = idle_.find(sql);
  if (found != idle_.end() && !found->second.empty()) {
    auto statement = std::move(found->second.back());
    found->second.pop_back();
    return statement;
  }
  try {
    return std::make_unique<SQLite::Statement>(*connection_, std::string(sql));
  } catch (const SQLite::Exception& failure) {
    throw translated(failure);
  }
}

void Database::give_back(std::string_view sql,
                         std::unique_ptr<SQLite::Statement> statement) {
  auto found = idle_.find(sql);
  if (found == idle_.end()) found = idle_.try_emplace(std::string(sql)).first;
  found->second.push_back(std::move(statement));
}

Query::Query(Borrowed, Database& database, std::string_view sql)
    : database_(database), sql_(sql), statement_(database.borrow(sql)) {}

Query::~Query() {
  // The reset answers the failure of the last step once more: already thrown.
  statement_->tryReset();
  database_.give_back(sql_, std::move(statement_));
}

bool Query::next() {
  try {
    return statement_->executeStep();
  } catch (const SQLite::Exception& failure) {
    throw database_.translated(failure);
  }
}

void Query::bind(int index, std::int64_t value) {
  statement_->bind(index, value);
}
void Query::bind(int index, int value) {
  statement_->bind(index, value);
}
void Query::bind(int index, bool value) {
  statement_->bind(index, value ? 1 : 0);
}
void Query::bind(int index, double value) {
  statement_->bind(index, value);
}
void Query::bind(int index, std::string_view value) {
  statement_->bind(index, std::string(value));
}
void Query::bind(int index, Blob value) {
  statement_->bind(index, static_cast<const void*>(value.bytes.data()),
                   static_cast<int>(value.bytes.size()));
}
void Query::bind(int index, std::chrono::sys_days value) {
  bind(index, std::int64_t{value.time_since_epoch().count()});
}
void Query::bind(int index, std::nullopt_t) {
  statement_->bind(index);
}

void Query::fetch(int column, std::int64_t& value) const {
  value = statement_->getColumn(column).getInt64();
}
void Query::fetch(int column, int& value) const {
  value = statement_->getColumn(column).getInt();
}
void Query::fetch(int column, bool& value) const {
  value = statement_->getColumn(column).getInt() != 0;
}
void Query::fetch(int column, double& value) const {
  value = statement_->getColumn(column).getDouble();
}
void Query::fetch(int column, std::string& value) const {
  value = statement_->getColumn(column).getString();
}
void Query::fetch(int column, Instant& value) const {
  value = Instant{std::chrono::seconds{statement_->getColumn(column).getInt64()}};
}
void Query::fetch(int column, std::chrono::sys_days& value) const {
  value =
      std::chrono::sys_days{std::chrono::days{statement_->getColumn(column).getInt()}};
}

Transaction::Transaction(Database& database) : database_(database) {
  database_.execute("BEGIN IMMEDIATE");
  ++database_.open_transactions_;
}

Transaction::~Transaction() {
  --database_.open_transactions_;
  // Fails when SQLite has rolled back by itself, as it does on a full disk: then all is
  // as it should be.
  if (!committed_) database_.connection_->tryExec("ROLLBACK");
}

void Transaction::commit() {
  database_.execute("COMMIT");
  committed_ = true;
}

Snapshot::Snapshot(Database& database) : database_(database) {
  if (database_.open_transactions_ == 0) database_.execute("BEGIN");
  ++database_.open_transactions_;
}

Snapshot::~Snapshot() {
  if (--database_.open_transactions_ > 0) return;
  database_.connection_->tryExec("COMMIT");
}

}  // namespace rimeward
