// What the store needs besides commits: days that are over are packed, readings that are
// older than the garden keeps them are dropped, and what is written to the medium is
// counted by the day, since a memory card wears by it. A little at a time, so that a
// store of years that was never packed is brought there beside the daemon's work. One
// thread.

#pragma once

#include <cstdint>
#include <functional>
#include <optional>

#include "daemon/base/garden.h"
#include "daemon/base/log.h"
#include "daemon/store/store.h"
#include "sensors/units.h"

namespace rimeward {

// How many bytes this process has had written to media so far; nothing where the kernel
// does not count them (/proc/self/io).
std::optional<std::int64_t> bytes_written();

class Upkeep {
 public:
  // REQUIRES: `store` outlives this, and its thread is the one that calls.
  Upkeep(Store& store, const StoreSettings& settings, LogSink log,
         std::function<std::optional<std::int64_t>()> written = bytes_written);

  // At most one step, of some tens of milliseconds. `now` is the garden's clock. Throws
  // StoreError; what it was at is then as before, and comes again at a later call.
  void step(Instant now);
  // Adds to the store what was written since it was last added.
  void note_written(Instant now);

 private:
  bool drop_some(Instant now);
  bool pack_some(Instant now);
  void tell_progress(Instant until);

  Store& store_;
  const StoreSettings& settings_;
  LogSink log_;
  std::function<std::optional<std::int64_t>()> written_;
  std::optional<std::int64_t> written_before_;  // when it was last added
  std::optional<Instant> noted_at_;
  std::optional<Instant> nothing_until_;  // all was packed and dropped for that day
  struct Progress {
    std::int64_t days = 0;  // that there were to pack at first
    std::int64_t told = 0;  // tenths of them
  };
  std::optional<Progress> progress_;  // while many days are to be packed
};

}  // namespace rimeward
