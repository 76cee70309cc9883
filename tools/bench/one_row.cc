// Opens a store and reads one row: the least that a program which answers from it can do.
// What whole processes of the terminal are measured against (tools/bench/processes).

#include <cstdio>
#include <cstdlib>

#include <sqlite3.h>

int main(int argc, char** argv) {
  if (argc != 2) return 2;
  sqlite3* database = nullptr;
  sqlite3_stmt* query = nullptr;
  const bool read =
      sqlite3_open_v2(argv[1], &database, SQLITE_OPEN_READONLY, nullptr) == SQLITE_OK &&
      sqlite3_prepare_v2(
          database,
          "SELECT time, value_milli FROM recent WHERE series <> 0 ORDER BY "
          "time DESC LIMIT 1",
          -1, &query, nullptr) == SQLITE_OK &&
      sqlite3_step(query) == SQLITE_ROW;
  if (read) {
    std::printf("%lld %lld\n", sqlite3_column_int64(query, 0),
                sqlite3_column_int64(query, 1));
  }
  sqlite3_finalize(query);
  sqlite3_close(database);
  return read ? EXIT_SUCCESS : EXIT_FAILURE;
}
