// One connection to the SQLite file: how it is opened, its statements and transactions,
// and what its failures are called. Knows nothing of what the tables hold. The only home
// of SQLite in the program. Not thread-safe.
//
// Failures are StoreErrors that say what to do.

#pragma once

#include <chrono>
#include <cstdint>
#include <filesystem>
#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include <SQLiteCpp/SQLiteCpp.h>

#include "daemon/store/store_error.h"
#include "sensors/units.h"

namespace rimeward {

// Bytes to be bound as they are, not as text.
struct Blob {
  std::string_view bytes;
};

class Database {
 public:
  enum class Access { kReadWrite, kReadOnly };

  // A file that is missing is made, with its folder, when kReadWrite. Nothing is written
  // to a file that is already there.
  Database(const std::filesystem::path& file, Access access);
  // Lives in memory only.
  Database();

  Database(const Database&) = delete;
  Database& operator=(const Database&) = delete;
  ~Database() = default;

  // Called with how many pages are copied, of how many.
  using Copied = std::function<void(std::uint64_t done, std::uint64_t of)>;

  // Writes a database of one file, with no log beside it, that holds what is committed
  // now; other connections may go on writing meanwhile, and nothing of that is in it. In
  // little memory; the copy is not synced. REQUIRES: `file` is not there.
  void copy_to(const std::filesystem::path& file, const Copied& tell);

  // Queries may read the tables of another file as `name.<table>`, and not write them,
  // not even where its last commits are still in a log. The file is left as it is.
  // REQUIRES: this lives in memory.
  void attach(const std::filesystem::path& file, std::string_view name);
  // REQUIRES: no query of it is under way.
  void detach(std::string_view name);

  // Runs statements that answer nothing that matters; not kept prepared.
  void execute(const std::string& sql);

  // Lets go of what is held only to be faster: pages read before, and queries that are
  // prepared and not under way. Those of a database in memory stay.
  void give_back_memory();

  bool lives_in_memory() const { return name_.empty(); }
  bool is_read_only() const;
  std::int64_t last_row_id() const { return connection_->getLastInsertRowid(); }
  // Rows changed by the statement that ran last.
  int changes() const { return connection_->getChanges(); }

  // "store /var/lib/rimeward/garden.db: what"
  StoreError error(std::string_view what,
                   StoreFault fault = StoreFault::kMisplaced) const;
  // The same of what was read and cannot be right.
  StoreError damage(std::string_view what) const;

 private:
  friend class Query;
  friend class Transaction;
  friend class Snapshot;

  void connect(const std::string& target, int flags);
  void open_read_only(const std::filesystem::path& file);
  std::unique_ptr<SQLite::Statement> borrow(std::string_view sql);
  void give_back(std::string_view sql, std::unique_ptr<SQLite::Statement> statement);
  StoreError translated(const SQLite::Exception& failure) const;

  std::string name_;  // the file; empty: in memory
  std::unique_ptr<SQLite::Database> connection_;
  // Prepared and not in use, by their text. A statement may be in use twice at a time,
  // as when a visitor of readings asks for readings.
  std::map<std::string, std::vector<std::unique_ptr<SQLite::Statement>>, std::less<>>
      idle_;
  int open_transactions_ = 0;
};

// One run of one statement: values bound in the order given, rows read in the order of
// the columns. A row left unread holds the file's read lock, so a Query is to live short.
class Query {
 public:
  template <class... Values>
  Query(Database& database, std::string_view sql, const Values&... values)
      : Query(Borrowed{}, database, sql) {
    int index = 0;
    (bind(++index, values), ...);
  }
  ~Query();
  Query(const Query&) = delete;
  Query& operator=(const Query&) = delete;

  // Goes to the next row, the first at the first call. False when there is none.
  bool next();

  // The row's columns from the first on.
  template <class... Values>
  void read(Values&... values) const {
    int column = 0;
    (fetch(column++, values), ...);
  }

 private:
  struct Borrowed {};
  Query(Borrowed, Database& database, std::string_view sql);

  void bind(int index, std::int64_t value);
  void bind(int index, int value);
  void bind(int index, bool value);
  void bind(int index, double value);
  void bind(int index, std::string_view value);
  void bind(int index, Blob value);
  void bind(int index, const std::string& value) { bind(index, std::string_view(value)); }
  void bind(int index, const char* value) { bind(index, std::string_view(value)); }
  void bind(int index, Instant value) { bind(index, unix_seconds(value)); }
  void bind(int index, std::chrono::sys_days value);
  void bind(int index, Celsius value) { bind(index, value.degrees); }
  void bind(int index, std::nullopt_t);
  template <class T>
  void bind(int index, const std::optional<T>& value) {
    if (value) {
      bind(index, *value);
    } else {
      bind(index, std::nullopt);
    }
  }

  void fetch(int column, std::int64_t& value) const;
  void fetch(int column, int& value) const;
  void fetch(int column, bool& value) const;
  void fetch(int column, double& value) const;
  void fetch(int column, std::string& value) const;  // a blob's bytes, too
  void fetch(int column, Instant& value) const;
  void fetch(int column, std::chrono::sys_days& value) const;
  void fetch(int column, Celsius& value) const { fetch(column, value.degrees); }
  template <class T>
  void fetch(int column, std::optional<T>& value) const {
    value.reset();
    if (statement_->isColumnNull(column)) return;
    fetch(column, value.emplace());
  }

  static std::int64_t unix_seconds(Instant at) {
    return std::int64_t{at.time_since_epoch().count()};
  }

  Database& database_;
  std::string sql_;
  std::unique_ptr<SQLite::Statement> statement_;
};

// Runs a statement to its end.
template <class... Values>
void run(Database& database, std::string_view sql, const Values&... values) {
  Query query(database, sql, values...);
  while (query.next()) {
  }
}

// Writes that count together or not at all: undone unless commit() has returned.
// REQUIRES: no other Transaction or Snapshot on the database.
class Transaction {
 public:
  explicit Transaction(Database& database);
  ~Transaction();
  Transaction(const Transaction&) = delete;
  Transaction& operator=(const Transaction&) = delete;

  void commit();

 private:
  Database& database_;
  bool committed_ = false;
};

// Several reads that see one state of the file, whatever another process commits
// meanwhile. May stand inside another, or inside a Transaction.
class Snapshot {
 public:
  explicit Snapshot(Database& database);
  ~Snapshot();
  Snapshot(const Snapshot&) = delete;
  Snapshot& operator=(const Snapshot&) = delete;

 private:
  Database& database_;
};

}  // namespace rimeward
