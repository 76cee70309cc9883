// The store as a file to be taken care of: how large it is and what takes the room,
// whether it is whole, and a copy of it while the daemon goes on writing. Throws
// StoreError like the store; not thread-safe.

#pragma once

#include <chrono>
#include <cstdint>
#include <filesystem>
#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/store/store.h"
#include "sensors/result.h"
#include "sensors/units.h"

namespace rimeward {

struct RowCount {
  std::string_view kind;  // "readings", "hours", "days", ...
  std::int64_t rows = 0;
  bool is_more = false;  // there are more than `rows`; how many would take long to count
};

struct StoreSize {
  std::uint64_t file_bytes = 0;
  std::uint64_t log_bytes = 0;  // of commits that are not in the file yet
  int version = 0;              // of the tables, as `PRAGMA user_version` has it
  std::int64_t readings = 0;
  std::int64_t days_held = 0;       // dates with a summary of a day
  std::optional<Instant> oldest{};  // reading
  std::optional<Instant> newest{};
  std::vector<RowCount> rows{};
  std::uint64_t free_bytes = 0;  // in the file, for what is to come
  PackingState packing{};
  std::optional<Instant> readings_kept_from{};
  std::vector<WrittenRow> written{};  // by UTC day
};

// Nothing in it reads the readings or the hours one by one.
// REQUIRES: `store` is that of `file`, its days are cut by `grid`.
StoreSize size_of_store(const Store& store, const std::filesystem::path& file,
                        const DayGrid& grid);

// What is wrong with the whole file, the first twenty: in SQLite's words, or the packed
// days that cannot be unpacked; empty: it is whole. Reads all of it.
std::vector<std::string> faults_of_store(const std::filesystem::path& file);

struct BackupPlan {
  std::filesystem::path store;
  std::filesystem::path copy;
  bool may_replace = false;  // a copy that is there already
};

// "copying" or "checking", and how far, in bytes.
using BackupProgress = std::function<void(std::string_view doing, std::uint64_t done,
                                          std::optional<std::uint64_t> of)>;

// Copies the store as it is now, looks through the copy, and only then gives it its name:
// there is never half a backup. Answers its size. Refuses a `copy` that is there, that is
// the store itself, that is a folder or in none, and for which there is no room.
Result<std::uint64_t> back_up(const BackupPlan& plan, const BackupProgress& tell);

struct Compacted {
  std::uint64_t bytes_before = 0;  // of the file and of the log beside it
  std::uint64_t bytes_after = 0;
};

// "packing", and how many days of how many; or "shrinking".
using CompactProgress = std::function<void(std::string_view doing, std::uint64_t done,
                                           std::optional<std::uint64_t> of)>;

// Packs every UTC day that was over at `at`, then gives the disk what room the file does
// not use: for a store whose days were never packed. What is stored stays as it is, also
// where this is cut short. Works beside the daemon, whose commits wait meanwhile. Refuses
// where the disk has no room for a second copy of what is used.
Result<Compacted> compact(const std::filesystem::path& file, Instant at,
                          const CompactProgress& tell);

}  // namespace rimeward
