// Looks at the SQLite connections that a store opens, from outside: which statements run,
// how many rows they yield, and a limit on how large the file may grow. Not thread-safe;
// one Probe at a time, and it outlives the stores opened while it stands.

#pragma once

#include <cstddef>
#include <filesystem>
#include <set>
#include <stdexcept>
#include <string>
#include <vector>

#include <sqlite3.h>

namespace rimeward {

class Probe {
 public:
  Probe() {
    current() = this;
    sqlite3_auto_extension(entry());
  }
  ~Probe() {
    sqlite3_cancel_auto_extension(entry());
    current() = nullptr;
  }
  Probe(const Probe&) = delete;
  Probe& operator=(const Probe&) = delete;

  // The texts of all statements run since the last forget(), and the rows that they gave.
  const std::set<std::string>& statements() const { return statements_; }
  std::size_t rows() const { return rows_; }
  void forget() {
    statements_.clear();
    rows_ = 0;
  }

  // Lets the file grow by no more than `pages`, as seen by the first connection, which
  // then fails as on a full disk.
  // REQUIRES: the first store is still open.
  void limit_growth(int pages) {
    const int now = number("PRAGMA page_count");
    number("PRAGMA max_page_count = " + std::to_string(now + pages));
  }
  void lift_limit() { number("PRAGMA max_page_count = 1000000000"); }
  // Lets no file that is made from now on have more than `pages`: its connection then
  // fails as on a full disk.
  void limit_new_files(int pages) { most_pages_ = pages; }

 private:
  using Entry = void (*)();

  static Probe*& current() {
    static Probe* probe = nullptr;
    return probe;
  }
  // SQLite declares the entry without its arguments and calls it with them.
  static Entry entry() { return reinterpret_cast<Entry>(&Probe::opened); }

  static int opened(sqlite3* connection, const char** /*error*/,
                    const sqlite3_api_routines* /*api*/) {
    if (current()->first_ == nullptr) current()->first_ = connection;
    sqlite3_trace_v2(connection, SQLITE_TRACE_STMT | SQLITE_TRACE_ROW, &Probe::traced,
                     current());
    if (current()->most_pages_ > 0) {
      const std::string limit =
          "PRAGMA max_page_count = " + std::to_string(current()->most_pages_);
      sqlite3_exec(connection, limit.c_str(), nullptr, nullptr, nullptr);
    }
    return SQLITE_OK;
  }

  static int traced(unsigned event, void* context, void* statement, void* text) {
    auto& probe = *static_cast<Probe*>(context);
    if (event == SQLITE_TRACE_ROW) ++probe.rows_;
    if (event == SQLITE_TRACE_STMT) {
      const char* const sql = sqlite3_sql(static_cast<sqlite3_stmt*>(statement));
      probe.statements_.insert(sql != nullptr ? sql : static_cast<const char*>(text));
    }
    return 0;
  }

  int number(const std::string& sql) {
    sqlite3_stmt* statement = nullptr;
    if (sqlite3_prepare_v2(first_, sql.c_str(), -1, &statement, nullptr) != SQLITE_OK) {
      throw std::runtime_error("cannot prepare " + sql);
    }
    sqlite3_step(statement);
    const int value = sqlite3_column_int(statement, 0);
    sqlite3_finalize(statement);
    return value;
  }

  sqlite3* first_ = nullptr;
  int most_pages_ = 0;  // 0: as many as there is room for
  std::set<std::string> statements_;
  std::size_t rows_ = 0;
};

// A second pair of eyes on a file, without the store's code: runs `sql` and answers the
// rows, their columns parted by '|'. Throws with SQLite's words when it fails.
inline std::vector<std::string> sqlite_rows(const std::filesystem::path& file,
                                            const std::string& sql) {
  sqlite3* connection = nullptr;
  std::vector<std::string> rows;
  const auto add = [](void* context, int columns, char** texts, char**) {
    std::string row;
    for (int i = 0; i < columns; ++i) {
      if (i > 0) row += '|';
      row += texts[i] != nullptr ? texts[i] : "NULL";
    }
    static_cast<std::vector<std::string>*>(context)->push_back(row);
    return 0;
  };
  const bool opened = sqlite3_open(file.c_str(), &connection) == SQLITE_OK;
  const bool ran =
      opened && sqlite3_exec(connection, sql.c_str(), add, &rows, nullptr) == SQLITE_OK;
  const std::string words = sqlite3_errmsg(connection);
  sqlite3_close(connection);
  if (!ran) throw std::runtime_error(words);
  return rows;
}

}  // namespace rimeward
