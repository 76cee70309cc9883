// What the daemon runs on while the store's file cannot be used: a database in memory
// that holds what can still be read of the file, and the wait for the file itself. The
// file is not written to. One thread.

#pragma once

#include <chrono>
#include <cstdint>
#include <filesystem>
#include <functional>
#include <memory>
#include <optional>

#include "daemon/store/database.h"
#include "daemon/store/store_error.h"
#include "sensors/units.h"

namespace rimeward {

// Whether to go on without the file after it could not be opened: the medium is to blame,
// not the settings. A file that is not there, or that may be another program's, is a
// mistake to be mended before the daemon runs.
bool may_be_stood_in_for(const StoreError& error, const std::filesystem::path& file);

// The garden's clock as the file last had it; nothing where that cannot be read.
std::optional<Instant> last_now_of(const std::filesystem::path& file);

// A database of the current version, in memory, with the newest of what the file holds:
// readings and hours from `since` on, days and nights from some weeks before that, what
// was learned, what is kept and open. Each table as far as it can be read. Never throws
// for what is wrong with the file.
std::unique_ptr<Database> database_standing_in(const std::filesystem::path& file,
                                               Instant since);

// Waits for the file to be of use again. Where it was damaged only another file in its
// place, whole and left alone for a while, is one; so it is where its medium failed, but
// that is tried again each hour all the same.
class AwaitedFile {
 public:
  AwaitedFile(std::filesystem::path file, StoreFault fault);

  // To be asked as often as anybody likes; looks once a minute. `moving` is called now
  // and then while a whole file is read.
  bool is_back(std::chrono::steady_clock::time_point at,
               const std::function<void()>& moving);

 private:
  struct Identity {
    std::uint64_t device = 0;
    std::uint64_t file = 0;
    std::int64_t bytes = 0;
    std::int64_t changed = 0;  // nanoseconds since 1970
    bool operator==(const Identity&) const = default;
  };

  static std::optional<Identity> identity_of(const std::filesystem::path& file);
  bool is_worth_trying(const Identity& identity,
                       std::chrono::steady_clock::time_point at) const;
  bool can_be_used(bool is_to_be_whole, const std::function<void()>& moving) const;

  const std::filesystem::path file_;
  const bool must_be_another_;
  const bool may_recover_;
  std::optional<Identity> of_no_use_;  // what was tried in vain
  std::optional<Identity> last_seen_;
  std::optional<std::chrono::steady_clock::time_point> looked_at_;
  std::chrono::steady_clock::time_point tried_at_;
  bool is_back_ = false;
};

}  // namespace rimeward
